#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <memory>

#include "cli/commands.h"
#include "cli/comparison_output.h"
#include "cli/fitting.h"
#include "cli/measuring.h"
#include "cli/options.h"
#include "cli/stored_lamps.h"
#include "core/error.h"

namespace lampload {
namespace {

struct CompareOptions {
  CaptureArguments captures;
  std::vector<std::string> lamps;
  std::optional<double> count;
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

/// Each with its count: "--lamp NAME --count N", or "--lamp NAME=N" once for every kind.
std::vector<NamedLamps> lamps_of(const CompareOptions& options) {
  if (options.count) {
    if (options.lamps.size() > 1) {
      throw Error(ErrorCode::usage, "--count says how many of one lamp, and there are several", Place{},
                  "Write --lamp NAME=COUNT for each");
    }
    NamedLamps one = stored_lamp(options.lamps.front(), options.library);
    one.count = static_cast<int>(*options.count);
    return {one};
  }
  std::vector<NamedLamps> lamps = stored_lamps(options.lamps, options.library);
  for (std::size_t k = 0; k < lamps.size(); ++k) {
    if (lamps[k].name == options.lamps[k]) {
      throw Error(ErrorCode::usage, fmt::format("how many of '{}' hang on the channel is not said", lamps[k].name),
                  Place{}, "Write --lamp NAME=COUNT, or --count N for lamps of one kind");
    }
  }
  return lamps;
}

int compare_all(const CompareOptions& options) {
  const ChosenChannel chosen = choose_channel(options.channel, options.library);
  const std::vector<NamedLamps> lamps = lamps_of(options);
  tell_cautions(cautions_of(lamps), options.output.quiet);
  std::vector<LoadItem> load;
  for (const NamedLamps& one : lamps) load.push_back({one.evidence, one.count});
  CaptureArguments arguments = options.captures;
  arguments.nominal.voltage_v = chosen.channel.supply.voltage_v;
  arguments.nominal.frequency_hz = chosen.channel.supply.frequency_hz;

  std::vector<StoredComparison> comparisons;
  for (StoredCapture& capture : read_and_measure(arguments, options.output.telling())) {
    StoredComparison& stored = comparisons.emplace_back();
    stored.comparison = compare(load, chosen.channel, mode_of(options.mode), capture.capture, capture.figures);
    stored.file = capture.capture.file;
    stored.sha256 = capture.sha256;
    stored.provenance = capture.provenance;
  }
  // One current does not tell which of several kinds of lamps is off.
  const bool kept = !options.dry && lamps.size() == 1;
  if (kept) {
    options.library.open_existing(Library::Access::read_write).store_comparisons(lamps.front().name, comparisons);
  }
  if (options.output.json) {
    fmt::print("{}", comparison_json(lamps, comparisons));
  } else {
    Screen screen(stdout);
    show_comparisons(screen, lamps, comparisons, kept);
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
  command
      .option(
          "--lamp", options->lamps,
          "Lamp in the library that hangs on the channel; NAME=COUNT, and once for each kind, where there are several")
      .required()
      .shown_as("NAME[=COUNT]");
  command.option("--count", options->count, "How many of them, where all are of one kind")
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
      "trailing_edge\n"
      "  lampload compare hall.csv --lamp 'clubroom pendant=2' --lamp 'stair candle=6' --channel hall_dimmer.json\n\n"
      "Voltage and current are those of the whole channel: the clamp round the wire that feeds all of its lamps.\n"
      "Exit status 1 says: done and stored, and the channel does something else than was predicted."));
  command.runs([options] { return compare_all(*options); });
}

}  // namespace lampload
