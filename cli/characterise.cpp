#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "cli/advice.h"
#include "cli/commands.h"
#include "cli/fitting.h"
#include "cli/json_output.h"
#include "cli/measuring.h"
#include "cli/screens.h"
#include "core/capture/dc_table.h"

namespace lampload {
namespace {

struct CharacteriseOptions {
  CaptureArguments captures;
  std::string lamp;
  std::string channel;
  std::string dc_table;
  LibraryOption library;
  OutputOptions output;
};

void show(const CharacteriseOptions& options, const std::vector<StoredCapture>& captures, const StoredFit& fit,
          const std::optional<Advice>& advice) {
  Screen screen(stdout);
  const std::string answer =
      advice ? recommendation_in_short(advice->recommendation) : "no channel given, so no mode and no count";
  const bool holds = fit.accepted && (!advice || advice->recommendation.mode != Mode::none);
  screen.line(fmt::format("{}: {}", options.lamp, answer), holds ? Style::good : Style::bad);
  screen.paragraph(fit_in_short(fit, captures));
  screen.line();
  screen.line("Captures", Style::heading);
  show_figures_in_short(screen, captures);
  screen.line();
  show_fit(screen, fit);
  if (!fit.samples.empty()) show_samples(screen, fit);
  screen.line();
  if (advice) show_recommendation(screen, *advice, !fit.accepted);
  screen.paragraph(measuring_cautions(), 2, Style::warning);
}

bool among(const std::vector<StoredCapture>& captures, const StoredCapture& one) {
  return std::any_of(captures.begin(), captures.end(),
                     [&](const StoredCapture& capture) { return same_recording(capture, one); });
}

bool of_sample_among(const std::vector<StoredCapture>& captures, const StoredCapture& one) {
  return std::any_of(captures.begin(), captures.end(),
                     [&](const StoredCapture& capture) { return capture.sample == one.sample; });
}

void note_on_earlier_captures(const LampRecord& earlier, const std::vector<StoredCapture>& captures) {
  const bool left_out = std::any_of(earlier.captures.begin(), earlier.captures.end(), [&](const StoredCapture& old) {
    return of_sample_among(captures, old) && !among(captures, old);
  });
  if (!left_out) return;
  Screen(stderr).paragraph(
      fmt::format("note: {} has earlier captures, which this fit leaves out; 'lampload fit' fits all of a lamp's "
                  "captures together; "
                  "captures of another piece of this type want --sample",
                  earlier.name));
}

/// Behind the captures given now, the stored ones of the lamp type's other pieces.
std::vector<StoredCapture> with_other_samples(const std::vector<StoredCapture>& captures,
                                              const std::optional<LampRecord>& earlier, const LibraryOption& library) {
  std::vector<StoredCapture> all = captures;
  const auto other = [&](const StoredCapture& old) { return !of_sample_among(captures, old) && !among(captures, old); };
  if (!earlier || std::none_of(earlier->captures.begin(), earlier->captures.end(), other)) return all;
  for (StoredCapture& old : library.open_existing(Library::Access::read_only).lamp(earlier->name, true).captures) {
    if (other(old) && !old.figures_only) all.push_back(std::move(old));
  }
  return all;
}

int characterise(const CharacteriseOptions& options) {
  std::optional<ChosenChannel> chosen;
  if (!options.channel.empty()) chosen = choose_channel(options.channel, options.library);
  const std::optional<LampRecord> earlier = lamp_if_stored(options.lamp, options.library);
  CaptureArguments arguments = options.captures;
  if (!options.dc_table.empty()) arguments.nominal.dc_points = read_dc_table(options.dc_table);
  if (earlier) arguments.nominal = merged(earlier->nominal, arguments.nominal);
  const Nominal& nominal = arguments.nominal;
  std::vector<StoredCapture> captures = read_and_measure(arguments, options.output.telling());
  assign_samples(captures, arguments.sample, earlier);
  const std::vector<StoredCapture> fitted = with_other_samples(captures, earlier, options.library);
  if (earlier && !options.output.quiet) note_on_earlier_captures(*earlier, captures);

  const StoredFit fit = fit_captures(fitted, nominal, options.output.telling());
  std::optional<Advice> advice;
  if (chosen) advice = advise(evidence_of(options.lamp, fit, fitted, nominal), chosen->channel, fit);

  const std::optional<Channel> new_channel =
      chosen && chosen->from_file ? std::optional(chosen->channel) : std::nullopt;
  Library::open(options.library.path(), Library::Access::read_write)
      .store(options.lamp, nominal, captures, fit, new_channel);
  if (advice) tell_basis(*advice, options.library.open_existing(Library::Access::read_only).lamp(options.lamp));

  if (options.output.json) {
    fmt::print("{}", characterise_json(options.lamp, captures, fit, advice));
  } else {
    show(options, captures, fit, advice);
  }
  const bool suits = !advice || advice->recommendation.mode != Mode::none;
  return fit.accepted && suits ? 0 : status_does_not_hold;
}

}  // namespace

void add_characterise(Command& program) {
  auto options = std::make_shared<CharacteriseOptions>();
  Command command = program.command(
      "characterise", "From captures to an equivalent circuit, a dimming mode and a lamp count; stores all of it");
  add_lamp_name(command, "--lamp", options->lamp, "Name to keep the lamp under");
  add_channel_option(command, options->channel,
                     "The channel that will feed the lamp: a file, or a name in the library");
  add_sample_option(command, options->captures.sample);
  add_instrument_option(command, options->captures.instrument);
  add_capture_arguments(command, options->captures);
  add_lamp_kind_options(command, options->captures.nominal);
  add_dc_table_option(command, options->dc_table);
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(help_with_cautions(
      "Examples:\n"
      "  lampload characterise pendant_steady.csv pendant_turn_on.csv --lamp 'clubroom pendant' \\\n"
      "    --channel clubroom_dimmer.json --rated-power 40 --label-dimmable yes --base E27\n"
      "  lampload characterise stair_candle_*.csv --lamp 'stair candle' --channel 'stair dimmer' --json\n"
      "  lampload characterise batten.csv --lamp 'workshop batten' --voltage-scale 100\n"
      "  lampload characterise second_*.csv --lamp 'stair candle' --sample 'second piece'\n\n"
      "Exit status 1 says: done and stored, but no family describes the lamp, or it suits no mode of the channel."));
  command.runs([options] { return characterise(*options); });
}

}  // namespace lampload
