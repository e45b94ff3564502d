#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <memory>

#include "cli/commands.h"
#include "cli/fitting.h"
#include "cli/json_output.h"
#include "cli/measuring.h"
#include "cli/options.h"
#include "cli/screens.h"
#include "core/capture/dc_table.h"
#include "core/error.h"

namespace lampload {
namespace {

struct FitCommandOptions {
  std::string lamp;
  std::vector<std::string> samples;  ///< empty: all
  Nominal nominal;
  bool report = false;
  std::string dc_table;
  LibraryOption library;
  OutputOptions output;
};

/// The captures of these samples; of all where none is named. What came without samples cannot be fitted.
std::vector<StoredCapture> captures_of(LampRecord lamp, const std::vector<std::string>& samples) {
  std::erase_if(lamp.captures, [](const StoredCapture& capture) { return capture.figures_only; });
  if (lamp.captures.empty()) {
    throw Error(ErrorCode::not_found,
                fmt::format("of the captures of '{}' only the figures came here, not their samples", lamp.name), {},
                "Ask for a lamp model file with captures where it comes from, or add captures with 'lampload import'");
  }
  if (samples.empty()) return lamp.captures;
  std::vector<std::string> labels;
  std::vector<StoredCapture> chosen;
  for (const StoredCapture& capture : lamp.captures) {
    if (std::find(labels.begin(), labels.end(), capture.sample) == labels.end()) labels.push_back(capture.sample);
    if (std::find(samples.begin(), samples.end(), capture.sample) != samples.end()) chosen.push_back(capture);
  }
  for (const std::string& sample : samples) {
    if (std::find(labels.begin(), labels.end(), sample) != labels.end()) continue;
    throw Error(ErrorCode::not_found, fmt::format("'{}' has no sample '{}'; its samples: '{}'", lamp.name, sample,
                                                  fmt::join(labels, "', '")));
  }
  return chosen;
}

int fit_again(const FitCommandOptions& options) {
  Library library = options.library.open_existing(Library::Access::read_write);
  const LampRecord lamp = library.lamp(options.lamp, true);
  if (lamp.captures.empty()) {
    throw Error(ErrorCode::not_found, "no captures are stored with '" + lamp.name + "'", Place{},
                "Add some with 'lampload import'");
  }
  Nominal given = options.nominal;
  if (!options.dc_table.empty()) given.dc_points = read_dc_table(options.dc_table);
  const std::vector<StoredCapture> captures = captures_of(lamp, options.samples);
  const StoredFit fit = fit_captures(captures, merged(lamp.nominal, given), options.output.telling());
  library.store(lamp.name, given, {}, fit);
  if (options.output.json) {
    fmt::print("{}", fit_json(lamp.name, captures, fit, options.report));
  } else {
    Screen screen(stdout);
    screen.paragraph(fmt::format("{}: {}", lamp.name, fit_in_short(fit, captures)), 0,
                     fit.accepted ? Style::good : Style::bad);
    screen.line();
    show_fit(screen, fit);
    show_samples(screen, fit);
    if (options.report) {
      screen.line();
      show_reports(screen, fit);
    }
  }
  return fit.accepted ? 0 : status_does_not_hold;
}

}  // namespace

void add_fit(Command& program) {
  auto options = std::make_shared<FitCommandOptions>();
  Command command =
      program.command("fit", "Fit all stored captures of a lamp, those of each sample together, and store the circuit");
  add_lamp_name(command, "lamp", options->lamp, "Lamp in the library");
  command.option("--sample", options->samples, "Only this sample; say it again for others. A type's spread wants all")
      .shown_as("LABEL");
  add_nominal_options(command, options->nominal);
  add_lamp_kind_options(command, options->nominal);
  add_dc_table_option(command, options->dc_table);
  add_report_option(command, options->report);
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload fit 'clubroom pendant'\n"
      "  lampload fit 'clubroom pendant' --cold-resistance 98\n"
      "  lampload fit 'clubroom pendant' --report\n"
      "  lampload fit 'clubroom pendant' --sample 'first piece' --sample 'second piece'\n"
      "  lampload fit 'stair candle' --json\n\n"
      "Exit status 1 says: done and stored, but no family describes the lamp.");
  command.runs([options] { return fit_again(*options); });
}

}  // namespace lampload
