#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <string>
#include <vector>

#include "cli/commands.h"
#include "cli/json_output.h"
#include "cli/measuring.h"
#include "cli/quantity.h"
#include "cli/screens.h"
#include "core/capture/dc_table.h"
#include "core/error.h"
#include "db/figures_json.h"

namespace lampload {
namespace {

struct ImportOptions {
  CaptureArguments captures;
  std::string lamp;
  std::string dc_table;
  std::vector<std::string> forgotten;
  LibraryOption library;
  OutputOptions output;
};

/// What of the label is given, by the names of the options.
std::vector<std::string> given_of(const Nominal& nominal) {
  std::vector<std::string> words;
  const auto add = [&](bool given, const char* word) {
    if (given) words.emplace_back(word);
  };
  add(nominal.voltage_v.has_value(), "nominal-voltage");
  add(nominal.frequency_hz.has_value(), "nominal-frequency");
  add(nominal.rated_power_w.has_value(), "rated-power");
  add(nominal.cold_resistance_ohm.has_value(), "cold-resistance");
  add(nominal.label_dimmable.has_value(), "label-dimmable");
  add(nominal.base.has_value(), "base");
  add(nominal.technology.has_value(), "technology");
  add(!nominal.dc_points.empty(), "dc-table");
  return words;
}

void refuse_both(const std::vector<std::string>& given, const std::vector<std::string>& forgotten) {
  for (const std::string& word : forgotten) {
    if (std::find(given.begin(), given.end(), word) == given.end()) continue;
    std::string contradiction = "--forget ";
    contradiction.append(word).append(" and --").append(word).append(" contradict each other");
    throw Error(ErrorCode::usage, std::move(contradiction), {},
                "Leave one of them out; what is given takes the place of what was stored");
  }
}

/// What of the captures was stored before, in words; empty: nothing.
std::string stored_before(const std::optional<LampRecord>& earlier, const std::vector<StoredCapture>& captures) {
  int there = 0;
  int completed = 0;
  for (const StoredCapture& capture : captures) {
    for (const StoredCapture& known : earlier ? earlier->captures : std::vector<StoredCapture>()) {
      const bool same = same_recording(known, capture) &&
                        options_to_json(known.options) == options_to_json(capture.options) &&
                        (capture.sample.empty() || known.sample == capture.sample);
      if (same) ++(known.figures_only ? completed : there);
    }
  }
  std::string words;
  if (there > 0)
    words +=
        fmt::format("; {} stored already, and left as it was", there == 1 ? "1 was" : fmt::format("{} were", there));
  if (completed > 0)
    words += fmt::format("; of {} only the figures had come, and now its samples are here too", completed);
  return words;
}

int import(const ImportOptions& options) {
  Nominal nominal = options.captures.nominal;
  if (!options.dc_table.empty()) nominal.dc_points = read_dc_table(options.dc_table);
  const std::vector<std::string> given = given_of(nominal);
  refuse_both(given, options.forgotten);
  const std::optional<LampRecord> earlier = lamp_if_stored(options.lamp, options.library);
  const bool forgets = !options.forgotten.empty();
  if (forgets && !earlier) {
    throw Error(ErrorCode::usage, "'" + options.lamp + "' is not stored yet: there is nothing to forget", {},
                "Leave --forget out");
  }
  const bool measured = !options.captures.files.empty() || !nominal.dc_points.empty();
  if (!measured && !(earlier && (forgets || !given.empty()))) {
    throw Error(ErrorCode::usage,
                earlier ? "there is nothing to store: no capture was named, nor anything of the label"
                        : "no capture was named, and '" + options.lamp + "' is not stored yet",
                {}, "Name its captures; without them only what the label of a stored lamp says can be set");
  }
  std::vector<StoredCapture> captures = read_and_measure(options.captures, options.output.telling());
  assign_samples(captures, options.captures.sample, earlier);
  Library library = Library::open(options.library.path(), Library::Access::read_write);
  library.store(options.lamp, nominal, captures, std::nullopt);
  if (forgets) library.forget_label(options.lamp, options.forgotten);
  if (options.output.json) {
    fmt::print("{}", import_json(options.lamp, captures));
    return 0;
  }
  Screen screen(stdout);
  if (captures.empty()) {
    screen.line(options.lamp + (!given.empty() ? ": stored what was given of it" : ": forgot what was named"),
                Style::good);
    return 0;
  }
  screen.line(fmt::format("{}: {} read and stored{}", options.lamp,
                          counted(static_cast<int>(captures.size()), "capture"), stored_before(earlier, captures)),
              Style::good);
  show_figures_in_short(screen, captures);
  return 0;
}

}  // namespace

void add_import(Command& program) {
  auto options = std::make_shared<ImportOptions>();
  Command command = program.command("import", "Read captures, measure them and store them with a lamp");
  add_lamp_name(command, "--lamp", options->lamp, "Name to keep the lamp under");
  add_sample_option(command, options->captures.sample);
  add_instrument_option(command, options->captures.instrument);
  add_capture_arguments(command, options->captures, Captures::optional);
  add_lamp_kind_options(command, options->captures.nominal);
  add_dc_table_option(command, options->dc_table);
  add_forget_option(command, options->forgotten);
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      help_with_cautions("Examples:\n"
                         "  lampload import pendant_steady.csv --lamp 'clubroom pendant'\n"
                         "  lampload import --lamp 'stair candle' --base E14 --technology led\n"
                         "  lampload import --lamp 'stair candle' --forget rated-power\n"
                         "  lampload import second_*.csv --lamp 'clubroom pendant' --sample 'second piece'\n"
                         "  lampload import pendant_turn_on.csv --lamp 'clubroom pendant' --cold-resistance 98 \\\n"
                         "    --instrument '8 bit scope, differential probe 100:1, 100 mV/A clamp'"));
  command.runs([options] { return import(*options); });
}

}  // namespace lampload
