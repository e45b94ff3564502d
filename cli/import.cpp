#include <fmt/format.h>

#include <memory>

#include "cli/commands.h"
#include "cli/json_output.h"
#include "cli/measuring.h"
#include "cli/quantity.h"
#include "cli/screens.h"
#include "core/capture/dc_table.h"
#include "core/error.h"

namespace lampload {
namespace {

struct ImportOptions {
  CaptureArguments captures;
  std::string lamp;
  std::string dc_table;
  LibraryOption library;
  OutputOptions output;
};

int import(const ImportOptions& options) {
  Nominal nominal = options.captures.nominal;
  if (!options.dc_table.empty()) nominal.dc_points = read_dc_table(options.dc_table);
  const bool label_given = nominal.voltage_v || nominal.frequency_hz || nominal.rated_power_w ||
                           nominal.cold_resistance_ohm || nominal.label_dimmable || nominal.base || nominal.technology;
  const std::optional<LampRecord> earlier = lamp_if_stored(options.lamp, options.library);
  if (options.captures.files.empty() && nominal.dc_points.empty() && !(earlier && label_given)) {
    throw Error(ErrorCode::usage,
                earlier ? "there is nothing to store: no capture was named, nor anything of the label"
                        : "no capture was named, and '" + options.lamp + "' is not stored yet",
                {}, "Name its captures; without them only what the label of a stored lamp says can be set");
  }
  std::vector<StoredCapture> captures = read_and_measure(options.captures, options.output.telling());
  assign_samples(captures, options.captures.sample, earlier);
  Library library = Library::open(options.library.path(), Library::Access::read_write);
  library.store(options.lamp, nominal, captures, std::nullopt);
  if (options.output.json) {
    fmt::print("{}", import_json(options.lamp, captures));
    return 0;
  }
  Screen screen(stdout);
  if (captures.empty()) {
    screen.line(options.lamp + ": stored what was given of it", Style::good);
    return 0;
  }
  screen.line(
      fmt::format("{}: {} read and stored", options.lamp, counted(static_cast<int>(captures.size()), "capture")),
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
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      help_with_cautions("Examples:\n"
                         "  lampload import pendant_steady.csv --lamp 'clubroom pendant'\n"
                         "  lampload import --lamp 'stair candle' --base E14 --technology led\n"
                         "  lampload import second_*.csv --lamp 'clubroom pendant' --sample 'second piece'\n"
                         "  lampload import pendant_turn_on.csv --lamp 'clubroom pendant' --cold-resistance 98 \\\n"
                         "    --instrument '8 bit scope, differential probe 100:1, 100 mV/A clamp'"));
  command.runs([options] { return import(*options); });
}

}  // namespace lampload
