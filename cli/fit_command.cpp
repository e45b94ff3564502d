#include <fmt/format.h>

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
  Nominal nominal;
  bool report = false;
  std::string dc_table;
  LibraryOption library;
  OutputOptions output;
};

int fit_again(const FitCommandOptions& options) {
  Library library = options.library.open_existing(Library::Access::read_write);
  const LampRecord lamp = library.lamp(options.lamp, true);
  if (lamp.captures.empty()) {
    throw Error(ErrorCode::not_found, "no captures are stored with '" + lamp.name + "'", Place{},
                "Add some with 'lampload import'");
  }
  Nominal given = options.nominal;
  if (!options.dc_table.empty()) given.dc_points = read_dc_table(options.dc_table);
  const StoredFit fit = fit_captures(lamp.captures, merged(lamp.nominal, given), options.output.quiet);
  library.store(lamp.name, given, {}, fit);
  if (options.output.json) {
    fmt::print("{}", fit_json(lamp.name, lamp.captures, fit, options.report));
  } else {
    Screen screen(stdout);
    screen.paragraph(fmt::format("{}: {}", lamp.name, fit_in_short(fit, lamp.captures)), 0,
                     fit.accepted ? Style::good : Style::bad);
    screen.line();
    show_fit(screen, fit);
    if (options.report) {
      screen.line();
      show_report(screen, fit);
    }
  }
  return fit.accepted ? 0 : status_does_not_hold;
}

}  // namespace

void add_fit(Command& program) {
  auto options = std::make_shared<FitCommandOptions>();
  Command command = program.command("fit", "Fit all stored captures of a lamp together, and store the circuit");
  add_lamp_name(command, "lamp", options->lamp, "Lamp in the library");
  add_nominal_options(command, options->nominal);
  add_dc_table_option(command, options->dc_table);
  add_report_option(command, options->report);
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload fit 'clubroom pendant'\n"
      "  lampload fit 'clubroom pendant' --cold-resistance 98\n"
      "  lampload fit 'clubroom pendant' --report\n"
      "  lampload fit 'stair candle' --json\n\n"
      "Exit status 1 says: done and stored, but no family describes the lamp.");
  command.runs([options] { return fit_again(*options); });
}

}  // namespace lampload
