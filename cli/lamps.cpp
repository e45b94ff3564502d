#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <memory>
#include <set>

#include "cli/advice.h"
#include "cli/basis.h"
#include "cli/commands.h"
#include "cli/fitting.h"
#include "cli/json_output.h"
#include "cli/options.h"
#include "cli/output_file.h"
#include "cli/quantity.h"
#include "cli/terminal.h"
#include "core/error.h"
#include "core/lamp/label.h"
#include "db/lamp_search.h"
#include "db/library.h"

namespace lampload {
namespace {

/// What a terminal shows unless told otherwise.
constexpr std::size_t most_on_terminal = 100;

struct LampsOptions {
  std::vector<std::string> words;
  std::string family;
  std::string power;
  std::optional<double> voltage_v;
  std::string base;
  std::string technology;
  std::string channel;
  bool all = false;
  bool csv = false;
  LibraryOption library;
  OutputOptions output;
};

std::string known_families() {
  std::set<std::string_view> names;
  for (const FamilyInfo& family : lamp_families()) names.insert(family.name);
  std::string text;
  for (const std::string_view name : names) text += fmt::format("{}{}", text.empty() ? "" : ", ", name);
  return text;
}

/// "FAMILY" or "FAMILY/LOAD_LAW" that there is.
std::string refusal_of_family(const std::string& text) {
  for (const FamilyInfo& family : lamp_families()) {
    if (text == family.name || text == fmt::format("{}/{}", family.name, family.load_law)) return "";
  }
  return fmt::format("there is no family '{}'; known are {}", text, known_families());
}

struct PowerRange {
  std::optional<double> least_w, most_w;
};

/// "8" is within a tenth, "5-9", "5-" and "-9" are ranges.
std::optional<PowerRange> power_range(const std::string& text) {
  const auto number = [](std::string_view part) -> std::optional<double> {
    double value = 0.0;
    const auto [end, failure] = std::from_chars(part.data(), part.data() + part.size(), value);
    if (failure != std::errc{} || end != part.data() + part.size() || !(value >= 0.0)) return std::nullopt;
    return value;
  };
  const std::string_view view = text;
  const auto mark = view.find('-');
  if (mark == std::string_view::npos) {
    const auto about = number(view);
    if (!about) return std::nullopt;
    return PowerRange{0.9 * *about, 1.1 * *about};
  }
  PowerRange range{number(view.substr(0, mark)), number(view.substr(mark + 1))};
  const bool readable = (mark == 0 || range.least_w) && (mark + 1 == view.size() || range.most_w) && view.size() > 1;
  if (!readable || (range.least_w && range.most_w && *range.least_w > *range.most_w)) return std::nullopt;
  return range;
}

LampSearch search_of(const LampsOptions& options) {
  LampSearch search;
  for (const std::string& word : options.words) search.words += (search.words.empty() ? "" : " ") + word;
  const auto slash = options.family.find('/');
  search.family = options.family.substr(0, slash);
  if (slash != std::string::npos) search.load_law = options.family.substr(slash + 1);
  if (!options.power.empty()) {
    const PowerRange range = *power_range(options.power);
    search.least_power_w = range.least_w;
    search.most_power_w = range.most_w;
  }
  search.voltage_v = options.voltage_v;
  search.base = options.base;
  search.technology = options.technology;
  return search;
}

/// By the figures stored with each fit, as 'recommend --channel' answers.
void keep_those_that_suit(FoundLamps& found, const LampsOptions& options) {
  const Channel channel = choose_channel(options.channel, options.library).channel;
  const Library library = options.library.open_existing(Library::Access::read_only);
  std::set<std::string> suited;
  for (const LampForChannel& lamp : lamps_for(channel, library, {}).lamps) {
    if (lamp.max_lamps > 0) suited.insert(lamp.lamp);
  }
  std::erase_if(found.lamps, [&](const LampSummary& lamp) { return !suited.contains(lamp.name); });
  found.all = found.lamps.size();
}

std::string cell(const std::string& text) {
  if (text.find_first_of(",\"\n\r") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

void print_csv(const std::vector<LampSummary>& lamps) {
  const auto known = [](const std::optional<double>& value) {
    return value ? fmt::format("{}", *value) : std::string();
  };
  std::string text = "name,family,load_law,power_w,voltage_rms_v,captures,fits,time_utc,trust,base,technology\n";
  for (const LampSummary& lamp : lamps) {
    text += fmt::format("{},{},{},{},{},{},{},{},{},{},{}\n", cell(lamp.name), lamp.family, lamp.load_law,
                        known(lamp.power_w), known(lamp.voltage_rms_v), lamp.captures, lamp.fits, lamp.time_utc,
                        trust_name(lamp.trust), lamp.base.value_or(""), lamp.technology.value_or(""));
  }
  write_output("", text);
}

void say_nothing_found(Screen& screen, const LampsOptions& options, const FoundLamps& found) {
  const bool asked = !options.words.empty() || !options.family.empty() || !options.power.empty() || options.voltage_v ||
                     !options.base.empty() || !options.technology.empty() || !options.channel.empty();
  if (!asked) {
    screen.line("No lamps are stored yet; 'lampload characterise' stores one.");
    return;
  }
  std::string near;
  for (const std::string& name : found.nearest) near += fmt::format("{}'{}'", near.empty() ? "" : ", ", name);
  screen.paragraph("No lamp is like that." + (near.empty() ? near : " Near to it: " + near + "."));
}

/// "E27, led".
std::string label_in_short(const LampSummary& lamp) {
  std::string text = lamp.base.value_or("");
  if (lamp.technology) text += (text.empty() ? "" : ", ") + spoken(*lamp.technology);
  return text.empty() ? "-" : text;
}

/// With a blank, at which a narrow table wraps it.
std::string date_and_time(std::string time_utc) {
  if (const auto mark = time_utc.find('T'); mark != std::string::npos) time_utc[mark] = ' ';
  return time_utc;
}

void show_table(Screen& screen, const FoundLamps& found) {
  // Where all were measured here, that needs no column.
  const bool received = std::any_of(found.lamps.begin(), found.lamps.end(),
                                    [](const LampSummary& lamp) { return lamp.trust != Trust::own; });
  const bool bases = std::any_of(found.lamps.begin(), found.lamps.end(),
                                 [](const LampSummary& lamp) { return lamp.base || lamp.technology; });
  std::vector<std::string> headings = {"lamp", "family", "power", "captures", "fits", "last change"};
  if (bases) headings.insert(headings.begin() + 1, "label");
  if (received) headings.emplace_back("source");
  Table table(headings);
  for (const LampSummary& lamp : found.lamps) {
    std::string family = lamp.family.empty() ? "-" : spoken(lamp.family);
    if (!lamp.load_law.empty()) family += ", " + spoken(lamp.load_law);
    std::vector<std::string> row = {lamp.name,
                                    family,
                                    lamp.power_w ? quantity(*lamp.power_w, "W", 3) : "-",
                                    std::to_string(lamp.captures),
                                    std::to_string(lamp.fits),
                                    date_and_time(lamp.time_utc)};
    if (bases) row.insert(row.begin() + 1, label_in_short(lamp));
    if (received) row.emplace_back(trust_in_words(lamp.trust));
    table.add(row);
  }
  screen.table(table);
  if (found.all > found.lamps.size()) {
    screen.line(fmt::format("... and {} more; --all shows them", found.all - found.lamps.size()));
  }
}

int list_lamps(const LampsOptions& options) {
  if (options.csv && options.output.json) {
    throw Error(ErrorCode::usage, "--csv and --json are two forms of the same list", Place{}, "Give one of them");
  }
  LampSearch search = search_of(options);
  const bool for_people = !options.csv && !options.output.json;
  const bool part = for_people && !options.all && ::isatty(STDOUT_FILENO) == 1;
  if (part && options.channel.empty()) search.most = most_on_terminal;
  FoundLamps found;
  if (!options.library.holds_nothing_yet())
    found = options.library.open_existing(Library::Access::read_only).find(search);
  if (!options.channel.empty()) keep_those_that_suit(found, options);
  if (options.output.json) {
    fmt::print("{}", lamps_json(found.lamps));
    return 0;
  }
  if (options.csv) {
    print_csv(found.lamps);
    return 0;
  }
  if (part && found.lamps.size() > most_on_terminal) found.lamps.resize(most_on_terminal);
  Screen screen(stdout);
  if (found.lamps.empty()) {
    say_nothing_found(screen, options, found);
  } else {
    show_table(screen, found);
  }
  return 0;
}

}  // namespace

void add_lamps(Command& program) {
  const std::string heading = "Which lamps";
  auto options = std::make_shared<LampsOptions>();
  Command command = program.command("lamps", "List the lamps of the library, or those that are like what is asked for");
  command.option("word", options->words, "Words that stand in the name or the notes").shown_as("WORD...");
  command.option("--family", options->family, "Family, or family and load law: rectifier_capacitor/led_string")
      .check(refusal_of_family)
      .shown_as("FAMILY")
      .under(heading);
  command.option("--power", options->power, "Watts, within a tenth, or a range: 5-9, 5- or -9")
      .check([](const std::string& text) {
        return power_range(text) ? std::string() : "'" + text + "' is no power: 8, 5-9, 5- or -9 watts";
      })
      .shown_as("W|W-W")
      .under(heading);
  command.option("--voltage", options->voltage_v, "Measured at, else made for, this voltage, within a tenth")
      .check(number_above_zero())
      .shown_as("V")
      .under(heading);
  command.option("--base", options->base, "With this cap, such as E27 or GU10").shown_as("CAP").under(heading);
  command.option("--technology", options->technology, "Of this technology, such as led or halogen")
      .check(fault_of_technology)
      .shown_as("WORD")
      .under(heading);
  command
      .option("--suits", options->channel,
              "At least one is allowed on this channel (a file, or one in the library), by the stored figures")
      .shown_as("NAME|FILE")
      .under(heading);
  command.flag("--all", options->all, "On a terminal too, all of a long list");
  command.flag("--csv", options->csv, "Comma-separated text");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload lamps\n"
      "  lampload lamps stair candle\n"
      "  lampload lamps --family rectifier_capacitor --power 3-8 --voltage 230\n"
      "  lampload lamps --base GU10 --technology led\n"
      "  lampload lamps --suits 'stair dimmer' --csv\n"
      "  lampload lamps --json --library boathouse.lampload");
  command.runs([options] { return list_lamps(*options); });
}

}  // namespace lampload
