#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <memory>

#include "cli/commands.h"
#include "cli/comparison_output.h"
#include "cli/fitting.h"
#include "cli/measuring.h"
#include "cli/options.h"
#include "core/error.h"

namespace lampload {
namespace {

struct CompareOptions {
  CaptureArguments captures;
  std::string lamp;
  double count = 0.0;
  std::string channel;
  std::string mode;
  bool dry = false;
  LibraryOption library;
  OutputOptions output;
};

const std::vector<std::string> mode_words = {"leading_edge", "trailing_edge", "on_off"};

std::optional<Mode> mode_of(const std::string& word) {
  for (const Mode mode : {Mode::leading_edge, Mode::trailing_edge, Mode::on_off}) {
    if (mode_name(mode) == word) return mode;
  }
  return std::nullopt;
}

int compare_all(const CompareOptions& options) {
  const ChosenChannel chosen = choose_channel(options.channel, options.library);
  const LampRecord lamp = options.library.open_existing(Library::Access::read_only).lamp(options.lamp);
  const LampEvidence evidence = evidence_of(lamp, lamp.nominal);
  CaptureArguments arguments = options.captures;
  arguments.nominal.voltage_v = chosen.channel.supply.voltage_v;
  arguments.nominal.frequency_hz = chosen.channel.supply.frequency_hz;

  std::vector<StoredComparison> comparisons;
  for (StoredCapture& capture : read_and_measure(arguments, options.output.quiet)) {
    StoredComparison& stored = comparisons.emplace_back();
    stored.comparison = compare(evidence, static_cast<int>(options.count), chosen.channel, mode_of(options.mode),
                                capture.capture, capture.figures);
    stored.file = capture.capture.file;
    stored.sha256 = capture.sha256;
    stored.provenance = capture.provenance;
  }
  if (!options.dry) {
    options.library.open_existing(Library::Access::read_write).store_comparisons(lamp.name, comparisons);
  }
  if (options.output.json) {
    fmt::print("{}", comparison_json(lamp.name, comparisons));
  } else {
    Screen screen(stdout);
    show_comparisons(screen, lamp.name, comparisons, !options.dry);
  }
  bool agree = true;
  for (const StoredComparison& one : comparisons) agree = agree && one.comparison.agrees();
  return agree ? 0 : status_does_not_hold;
}

}  // namespace

void add_compare(Command& program) {
  auto options = std::make_shared<CompareOptions>();
  Command command =
      program.command("compare", "Captures of a finished channel against the prediction; kept as evidence of the lamp");
  add_lamp_name(command, "--lamp", options->lamp, "Lamp in the library that hangs on the channel");
  command.option("--count", options->count, "How many of them")
      .required()
      .check([](const std::string& text) -> std::string {
        char* end = nullptr;
        const double value = std::strtod(text.c_str(), &end);
        const bool whole = !text.empty() && end == text.c_str() + text.size() && value == std::floor(value);
        return whole && value >= 1.0 && value <= 10'000.0 ? "" : "'" + text + "' is not a number of lamps";
      })
      .shown_as("N");
  command.option("--channel", options->channel, "The channel: a file, or a name in the library")
      .required()
      .shown_as("NAME|FILE");
  command.option("--mode", options->mode, "What the channel is set to (default: what each capture's cut shows)")
      .one_of(mode_words)
      .shown_as("MODE");
  command.flag("--dry-run", options->dry, "Store nothing");
  add_instrument_option(command, options->captures.instrument);
  add_capture_files(command, options->captures);
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(help_with_cautions(
      "Examples:\n"
      "  lampload compare clubroom_at_half.csv --lamp 'clubroom pendant' --count 8 --channel clubroom_dimmer.json\n"
      "  lampload compare stairs_*.csv --lamp 'stair candle' --count 12 --channel 'stair dimmer' --mode "
      "trailing_edge\n\n"
      "Voltage and current are those of the whole channel: the clamp round the wire that feeds all of its lamps.\n"
      "Exit status 1 says: done and stored, and the channel does something else than was predicted."));
  command.runs([options] { return compare_all(*options); });
}

}  // namespace lampload
