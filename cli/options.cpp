#include "cli/options.h"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>

namespace lampload {
namespace {

const std::string columns_group = "Columns, probes and polarity";
const std::string label_group = "What the label and the place say";
const std::string output_group = "Output";

CLI::Validator finite_number(bool positive) {
  return CLI::Validator(
      [positive](const std::string& text) -> std::string {
        double value = 0.0;
        if (!CLI::detail::lexical_cast(text, value) || !std::isfinite(value)) return "'" + text + "' is not a number";
        if (positive && value <= 0.0) return "'" + text + "' is not above zero";
        return {};
      },
      "", positive ? "positive number" : "number");
}

void add_label(CLI::App& command, std::function<void(std::optional<bool>)> set) {
  command
      .add_option_function<std::string>(
          "--label-dimmable",
          [set = std::move(set)](const std::string& word) {
            set(word == "unknown" ? std::nullopt : std::optional<bool>(word == "yes"));
          },
          "What the lamp's label says of dimming; no allows on/off only")
      ->check(CLI::IsMember({"yes", "no", "unknown"}))
      ->option_text("yes|no|unknown")
      ->group(label_group);
}

}  // namespace

void add_output_options(CLI::App& command, OutputOptions& output) {
  command.add_flag("--json", output.json, "Print one JSON document on standard output")->group(output_group);
  command.add_flag("--quiet", output.quiet, "No progress and no warnings on standard error")->group(output_group);
}

void add_library_option(CLI::App& command, LibraryOption& library) {
  command.add_option("--library", library.given, "The library file (default: under the XDG data directory)")
      ->option_text("FILE")
      ->group(output_group);
}

void add_channel_option(CLI::App& command, std::string& channel, const std::string& meaning) {
  command.add_option("--channel", channel, meaning)->option_text("NAME|FILE");
}

void add_nominal_options(CLI::App& command, Nominal& nominal) {
  command.add_option("--nominal-voltage", nominal.voltage_v, "Supply voltage of the place, rms (or DC)")
      ->check(finite_number(true))
      ->option_text("V")
      ->group(label_group);
  command.add_option("--nominal-frequency", nominal.frequency_hz, "Mains frequency; 0 for a DC supply")
      ->check(finite_number(false))
      ->check(CLI::NonNegativeNumber)
      ->option_text("HZ")
      ->group(label_group);
  command.add_option("--rated-power", nominal.rated_power_w, "Power printed on the lamp")
      ->check(finite_number(true))
      ->option_text("W")
      ->group(label_group);
  command
      .add_option("--cold-resistance", nominal.cold_resistance_ohm,
                  "Resistance by ohmmeter, lamp unplugged and at room temperature")
      ->check(finite_number(true))
      ->option_text("OHM")
      ->group(label_group);
  add_label(command, [&nominal](std::optional<bool> dimmable) { nominal.label_dimmable = dimmable; });
}

void add_label_option(CLI::App& command, LabelOption& label) {
  add_label(command, [&label](std::optional<bool> dimmable) { label = {true, dimmable}; });
}

void add_dc_table_option(CLI::App& command, std::string& file) {
  command
      .add_option("--dc-table", file, "Steady points at DC: columns voltage_v, current_a and, if known, uncertainty")
      ->option_text("FILE")
      ->group(label_group);
}

void add_report_option(CLI::App& command, bool& report) {
  command.add_flag("--report", report, "Also how the fit came about: residuals, correlations, starts, families")
      ->group(output_group);
}

void add_instrument_option(CLI::App& command, std::string& instrument) {
  command.add_option("--instrument", instrument, "Scope, probe and clamp, in your own words; stored with the captures")
      ->option_text("TEXT");
}

void add_lamp_name(CLI::App& command, const std::string& option, std::string& name, const std::string& meaning) {
  command.add_option(option, name, meaning)
      ->required()
      ->check([](const std::string& text) -> std::string {
        if (text.find_first_not_of(" \t\r\n") == std::string::npos) return "a lamp needs a name";
        const bool control = std::any_of(text.begin(), text.end(),
                                         [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
        return control ? "a lamp's name must not hold control characters" : "";
      })
      ->option_text("NAME");
}

void add_capture_arguments(CLI::App& command, CaptureArguments& arguments) {
  CaptureOptions& options = arguments.options;
  command
      .add_option("capture", arguments.files, "Text files from the scope, or VOLTAGE.csv+CURRENT.csv for a file each")
      ->required()
      ->option_text("CAPTURE...");
  command.add_option("--time-column", options.time_column, "Time column: header name or number, from 1")
      ->option_text("COLUMN")
      ->group(columns_group);
  command.add_option("--voltage-column", options.voltage_column, "Voltage column: header name or number, from 1")
      ->option_text("COLUMN")
      ->group(columns_group);
  command.add_option("--current-column", options.current_column, "Current column: header name or number, from 1")
      ->option_text("COLUMN")
      ->group(columns_group);
  command.add_option("--voltage-scale", options.voltage_scale, "Factor on the file's voltage, such as a probe's 100")
      ->check(finite_number(false))
      ->option_text("FACTOR")
      ->group(columns_group);
  command.add_option("--current-scale", options.current_scale, "Factor on the file's current, such as 10 for 100 mV/A")
      ->check(finite_number(false))
      ->option_text("FACTOR")
      ->group(columns_group);
  command.add_flag("--invert-current", options.invert_current, "The clamp was on the wrong way round")
      ->group(columns_group);
  command
      .add_option("--current-delay", options.current_delay_s,
                  "How much later the current channel shows an event; taken out")
      ->check(finite_number(false))
      ->option_text("SECONDS")
      ->group(columns_group);
  command.add_option("--sample-interval", options.sample_interval_s, "Where the file has no time column")
      ->check(finite_number(true))
      ->option_text("SECONDS")
      ->group(columns_group);
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
