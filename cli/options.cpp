#include "cli/options.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdlib>

#include "core/capture/layout_file.h"
#include "core/lamp/label.h"
#include "db/library.h"

namespace lampload {
namespace {

const std::string columns_group = "Columns, probes and polarity";
const std::string label_group = "What the label and the place say";
const std::string output_group = "Output";

enum class Range { any, not_negative, positive };

Check number(Range range) {
  return [range](const std::string& text) -> std::string {
    char* end = nullptr;
    const double value = std::strtod(text.c_str(), &end);
    if (text.empty() || end != text.c_str() + text.size() || !std::isfinite(value)) {
      return "'" + text + "' is not a number";
    }
    if (range == Range::positive && value <= 0.0) return "'" + text + "' is not above zero";
    if (range == Range::not_negative && value < 0.0) return "'" + text + "' is below zero";
    return {};
  };
}

void add_label(Command& command, std::function<void(std::optional<bool>)> set) {
  command
      .option(
          "--label-dimmable",
          [set = std::move(set)](const std::string& word) {
            set(word == "unknown" ? std::nullopt : std::optional<bool>(word == "yes"));
          },
          "What the lamp's label says of dimming; no allows on/off only")
      .one_of({"yes", "no", "unknown"})
      .shown_as("yes|no|unknown")
      .under(label_group);
}

}  // namespace

Check whole_number(std::int64_t from, std::int64_t to) {
  return [from, to](const std::string& text) -> std::string {
    std::int64_t value = 0;
    const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (failure == std::errc{} && end == text.data() + text.size() && value >= from && value <= to) return {};
    return "'" + text + "' is not a whole number from " + std::to_string(from) + " to " + std::to_string(to);
  };
}

Check number_above_zero() { return number(Range::positive); }

void add_output_options(Command& command, OutputOptions& output) {
  command.flag("--json", output.json, "Print one JSON document on standard output").under(output_group);
  command.flag("--quiet", output.quiet, "No progress and no warnings on standard error").under(output_group);
  command.flag("--verbose", output.verbose, "Files as they are read, long steps and their time on standard error")
      .under(output_group);
}

void add_library_option(Command& command, LibraryOption& library) {
  command.option("--library", library.given, "The library file (default: under the XDG data directory)")
      .shown_as("FILE")
      .under(output_group);
}

void add_channel_option(Command& command, std::string& channel, const std::string& meaning) {
  command.option("--channel", channel, meaning).shown_as("NAME|FILE");
}

void add_nominal_options(Command& command, Nominal& nominal) {
  command.option("--nominal-voltage", nominal.voltage_v, "Supply voltage of the place, rms (or DC)")
      .check(number(Range::positive))
      .shown_as("V")
      .under(label_group);
  command.option("--nominal-frequency", nominal.frequency_hz, "Mains frequency; 0 for a DC supply")
      .check(number(Range::not_negative))
      .shown_as("HZ")
      .under(label_group);
  command.option("--rated-power", nominal.rated_power_w, "Power printed on the lamp")
      .check(number(Range::positive))
      .shown_as("W")
      .under(label_group);
  command
      .option("--cold-resistance", nominal.cold_resistance_ohm,
              "Resistance by ohmmeter, lamp unplugged and at room temperature")
      .check(number(Range::positive))
      .shown_as("OHM")
      .under(label_group);
  add_label(command, [&nominal](std::optional<bool> dimmable) { nominal.label_dimmable = dimmable; });
}

void add_lamp_kind_options(Command& command, Nominal& nominal) {
  command.option("--base", nominal.base, "The lamp's cap as IEC 60061 writes it: E27, GU10, B22d; none: on wires")
      .check(fault_of_base)
      .shown_as("CAP")
      .under(label_group);
  command
      .option("--technology", nominal.technology,
              "How it makes its light, such as led or halogen; other words are answered with those known")
      .check(fault_of_technology)
      .shown_as("WORD")
      .under(label_group);
}

void add_label_option(Command& command, LabelOption& label) {
  add_label(command, [&label](std::optional<bool> dimmable) { label = {true, dimmable}; });
}

void add_dc_table_option(Command& command, std::string& file) {
  command.option("--dc-table", file, "Steady points at DC: columns voltage_v, current_a and, if known, uncertainty")
      .shown_as("FILE")
      .under(label_group);
}

void add_forget_option(Command& command, std::vector<std::string>& words) {
  command
      .option("--forget", words,
              fmt::format("Takes back what was stored of the label, by its option's name: {}; more than once for more",
                          fmt::join(Library::label_words(), ", ")))
      .one_of(Library::label_words())
      .shown_as("WORD")
      .under(label_group);
}

void add_report_option(Command& command, bool& report) {
  command.flag("--report", report, "Also how the fit came about: residuals, correlations, starts, families")
      .under(output_group);
}

void add_instrument_option(Command& command, std::string& instrument) {
  command.option("--instrument", instrument, "Scope, probe and clamp, in your own words; stored with the captures")
      .shown_as("TEXT");
}

std::string refusal_of_name(const std::string& name, const std::string& what) {
  if (name.find_first_not_of(" \t\r\n") == std::string::npos) return "a " + what + " needs a name";
  const bool control =
      std::any_of(name.begin(), name.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
  return control ? "a " + what + "'s name must not hold control characters" : "";
}

void add_conflict_option(Command& command, std::string& way) {
  command
      .option("--on-conflict", way,
              "Where another lamp of the name is stored: keep it (default), replace it (it stays under another name), "
              "or add the one that comes under another name")
      .one_of({"keep", "replace", "add"})
      .shown_as("WAY");
}

OnConflict conflict_way(const std::string& word) {
  return word == "replace" ? OnConflict::replace : word == "add" ? OnConflict::add : OnConflict::keep;
}

void add_sample_option(Command& command, std::string& sample) {
  command
      .option("--sample", sample,
              "Which piece of this lamp type was captured, where you measure several; in your own words")
      .check([](const std::string& text) { return refusal_of_name(text, "sample"); })
      .shown_as("LABEL");
}

void add_lamp_name(Command& command, const std::string& option, std::string& name, const std::string& meaning) {
  command.option(option, name, meaning)
      .required()
      .check([](const std::string& text) { return refusal_of_name(text, "lamp"); })
      .shown_as("NAME");
}

void add_capture_files(Command& command, CaptureArguments& arguments, Captures need) {
  CaptureOptions& options = arguments.options;
  Option files =
      command.option("capture", arguments.files, "Files from the scope, or VOLTAGE.csv+CURRENT.csv for a file each");
  if (need == Captures::required) files.required();
  files.shown_as("CAPTURE...");
  command.option("--time-column", options.time_column, "Time column: header name or number, from 1")
      .shown_as("COLUMN")
      .under(columns_group);
  command.option("--voltage-column", options.voltage_column, "Voltage column: header name or number, from 1")
      .shown_as("COLUMN")
      .under(columns_group);
  command.option("--current-column", options.current_column, "Current column: header name or number, from 1")
      .shown_as("COLUMN")
      .under(columns_group);
  command.option("--voltage-scale", options.voltage_scale, "Factor on the file's voltage, such as a probe's 100")
      .check(number(Range::any))
      .shown_as("FACTOR")
      .under(columns_group);
  command.option("--current-scale", options.current_scale, "Factor on the file's current, such as 10 for 100 mV/A")
      .check(number(Range::any))
      .shown_as("FACTOR")
      .under(columns_group);
  command.option("--voltage-offset", options.voltage_offset_v, "What the voltage channel shows of nothing; taken off")
      .check(number(Range::any))
      .shown_as("VOLTS")
      .under(columns_group);
  command.option("--current-offset", options.current_offset_a, "What the current channel shows of nothing; taken off")
      .check(number(Range::any))
      .shown_as("AMPERES")
      .under(columns_group);
  command.flag("--invert-current", options.invert_current, "The clamp was on the wrong way round").under(columns_group);
  command
      .option("--current-delay", options.current_delay_s,
              "How much later the current channel shows an event; taken out")
      .check(number(Range::any))
      .shown_as("SECONDS")
      .under(columns_group);
  command.option("--sample-interval", options.sample_interval_s, "Where the file has no time column")
      .check(number(Range::positive))
      .shown_as("SECONDS")
      .under(columns_group);
  command
      .option(
          "--segment", [&options](const std::string& text) { options.segment = std::stoi(text); },
          "Which segment of a record in several, from 1")
      .check(whole_number(1, 1000000))
      .shown_as("N")
      .under(columns_group);
  command
      .option(
          "--layout",
          [&options](const std::string& file) {
            options.layout = read_layout_file(file);
            take_from_layout(options);
          },
          "How the text is laid out, where it is not recognised; 'inspect --write-layout' makes one")
      .shown_as("FILE")
      .under(columns_group);
}

void add_capture_arguments(Command& command, CaptureArguments& arguments, Captures need) {
  add_capture_files(command, arguments, need);
  add_nominal_options(command, arguments.nominal);
}

const std::string& measuring_cautions() {
  static const std::string text =
      "Mains voltage kills. Measure with isolated or differential probes of the right measurement category, and never "
      "clip a grounded scope lead to a live conductor. Isolate and discharge before touching. Feed the circuit through "
      "a residual-current device, keep one hand away from it, and leave the work to people whom local rules allow. "
      "Local codes and licensed practice come before any answer of this program.";
  return text;
}

std::string help_with_cautions(const std::string& examples) {
  return examples +
         "\n\nCAUTION: mains voltage kills.\n"
         "  - Isolated or differential probes of the right measurement category; never a\n"
         "    grounded scope clip on a live conductor.\n"
         "  - Isolate and discharge before touching anything.\n"
         "  - A residual-current device in the supply; one hand; people whom local rules\n"
         "    allow to do this work.\n"
         "Local codes and licensed practice come before any answer of this program.";
}

}  // namespace lampload
