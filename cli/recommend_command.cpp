#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "cli/commands.h"
#include "cli/fitting.h"
#include "cli/json_output.h"
#include "cli/options.h"
#include "cli/screens.h"
#include "core/error.h"

namespace lampload {
namespace {

struct RecommendOptions {
  std::string lamp;
  std::string channel;
  LabelOption label;
  LibraryOption library;
  OutputOptions output;
};

int recommend_for(const RecommendOptions& options) {
  const Library library = options.library.open_existing(Library::Access::read_only);
  const LampRecord lamp = library.lamp(options.lamp);
  Nominal nominal = lamp.nominal;
  if (options.label.given) nominal.label_dimmable = options.label.dimmable;

  std::vector<Channel> channels;
  if (options.channel.empty()) {
    channels = library.channels();
  } else {
    channels.push_back(choose_channel(options.channel, options.library).channel);
  }
  if (channels.empty()) {
    throw Error(ErrorCode::not_found, "the library holds no channels", Place{},
                "Give --channel FILE, or add one with 'lampload channels add FILE'");
  }
  if (!lamp.fit && !options.output.quiet) {
    Screen(stderr).paragraph(fmt::format(
        "note: {} is not fitted yet; after 'lampload fit' the counts rest on a circuit, not on the waveform alone",
        lamp.name));
  }
  const LampEvidence evidence = evidence_of(lamp.name, lamp.fit, lamp.captures, nominal);
  std::vector<Recommendation> recommendations;
  for (const Channel& channel : channels) recommendations.push_back(recommend(evidence, channel));

  if (options.output.json) {
    fmt::print("{}", options.channel.empty() ? recommendations_json(lamp.name, recommendations)
                                             : recommendation_json(lamp.name, recommendations.front()));
  } else {
    Screen screen(stdout);
    for (const Recommendation& r : recommendations) {
      screen.line(fmt::format("{} on {}: {}", lamp.name, r.channel, recommendation_in_short(r)),
                  r.mode == Mode::none ? Style::bad : Style::good);
    }
    for (const Recommendation& r : recommendations) {
      screen.line();
      show_recommendation(screen, r, !evidence.lamp);
    }
  }
  const bool suits = std::any_of(recommendations.begin(), recommendations.end(),
                                 [](const Recommendation& r) { return r.mode != Mode::none; });
  return suits ? 0 : status_does_not_hold;
}

}  // namespace

void add_recommend(Command& program) {
  auto options = std::make_shared<RecommendOptions>();
  Command command = program.command("recommend", "Dimming mode and lamp count, from what is stored of a lamp");
  add_lamp_name(command, "lamp", options->lamp, "Lamp in the library");
  add_channel_option(command, options->channel,
                     "A channel file, or a channel in the library; without it, every channel of the library");
  add_label_option(command, options->label);
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload recommend 'clubroom pendant' --channel clubroom_dimmer.json\n"
      "  lampload recommend 'stair candle'\n"
      "  lampload recommend 'stair candle' --channel 'stair dimmer' --label-dimmable unknown --json\n\n"
      "Exit status 1 says: done, and the lamp suits no mode of any channel asked about.");
  command.runs([options] { return recommend_for(*options); });
}

}  // namespace lampload
