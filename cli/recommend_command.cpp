#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <memory>

#include "cli/advice_output.h"
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
  double table_to = 0.0;  ///< 0: no table
  LabelOption label;
  LibraryOption library;
  OutputOptions output;
};

/// One channel that was asked about, or all of the library.
std::vector<Channel> channels_of(const RecommendOptions& options, const Library& library) {
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
  return channels;
}

int recommend_for(const RecommendOptions& options) {
  const Library library = options.library.open_existing(Library::Access::read_only);
  const LampRecord lamp = library.lamp(options.lamp);
  Nominal nominal = lamp.nominal;
  if (options.label.given) nominal.label_dimmable = options.label.dimmable;
  const std::vector<Channel> channels = channels_of(options, library);
  if (!lamp.fit && !options.output.quiet) {
    Screen(stderr).paragraph(fmt::format(
        "note: {} is not fitted yet; after 'lampload fit' the counts rest on a circuit, not on the waveform alone",
        lamp.name));
  }
  const LampEvidence evidence = evidence_of(lamp, nominal);
  std::vector<Advice> advice;
  for (const Channel& channel : channels) {
    advice.push_back(advise(evidence, channel, lamp.fit));
    tell_basis(advice.back(), lamp);
  }
  std::stable_sort(advice.begin(), advice.end(), ranks_before);
  if (options.table_to > 0.0) {
    for (Advice& one : advice) add_table(one, evidence, static_cast<int>(options.table_to));
  }

  if (options.output.json) {
    fmt::print("{}", options.channel.empty() ? recommendations_json(lamp.name, advice)
                                             : recommendation_json(lamp.name, advice.front()));
  } else {
    Screen screen(stdout);
    // What a bad source says comes before what it says.
    if (lamp.trust == Trust::revoked_signer) {
      screen.paragraph(fmt::format("Caution: {}.", caution_of(lamp.name, lamp.trust, lamp.origin)), 0, Style::bad);
    }
    if (advice.size() > 1) {
      show_ranking(screen, lamp.name, advice);
    } else {
      const Recommendation& only = advice.front().recommendation;
      screen.line(fmt::format("{} on {}: {}", lamp.name, only.channel, recommendation_in_short(only)),
                  only.mode == Mode::none ? Style::bad : Style::good);
    }
    for (const Advice& one : advice) {
      screen.line();
      show_recommendation(screen, one, !evidence.lamp);
    }
  }
  const bool suits = std::any_of(advice.begin(), advice.end(),
                                 [](const Advice& one) { return one.recommendation.mode != Mode::none; });
  return suits ? 0 : status_does_not_hold;
}

/// All lamps of the library for one channel.
int look_through(const RecommendOptions& options) {
  const Channel channel = choose_channel(options.channel, options.library).channel;
  const Library library = options.library.open_existing(Library::Access::read_only);
  const LampsForChannel found = lamps_for(channel, library, options.label);
  if (options.output.json) {
    fmt::print("{}", lamps_for_channel_json(found));
  } else {
    Screen screen(stdout);
    show_lamps_for_channel(screen, found);
  }
  const bool suits =
      std::any_of(found.lamps.begin(), found.lamps.end(), [](const LampForChannel& one) { return one.max_lamps > 0; });
  return suits ? 0 : status_does_not_hold;
}

int answer(const RecommendOptions& options) {
  if (!options.lamp.empty()) return recommend_for(options);
  if (options.channel.empty()) {
    throw Error(ErrorCode::usage, "neither a lamp nor a channel was named", Place{},
                "Name a lamp, or with --channel a channel, or both");
  }
  if (options.table_to > 0.0) {
    throw Error(ErrorCode::usage, "--table is of one lamp, and none was named", Place{}, "Name the lamp");
  }
  return look_through(options);
}

std::string refusal_of_count(const std::string& text) {
  char* end = nullptr;
  const double value = std::strtod(text.c_str(), &end);
  const bool whole = !text.empty() && end == text.c_str() + text.size() && value == std::floor(value);
  return whole && value >= 1.0 && value <= 1000.0 ? "" : "'" + text + "' is not a number of lamps from 1 to 1000";
}

}  // namespace

void add_recommend(Command& program) {
  auto options = std::make_shared<RecommendOptions>();
  Command command = program.command("recommend", "Dimming mode and lamp count, from what is stored of a lamp");
  command.option("lamp", options->lamp, "Lamp in the library; without it, every lamp of the library for the channel")
      .check([](const std::string& text) { return refusal_of_name(text, "lamp"); })
      .shown_as("NAME");
  add_channel_option(command, options->channel,
                     "A channel file, or a channel in the library; without it, every channel of the library");
  command.option("--table", options->table_to, "Also what every constraint comes to with 1 to N lamps")
      .check(refusal_of_count)
      .shown_as("N");
  add_label_option(command, options->label);
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload recommend 'clubroom pendant' --channel clubroom_dimmer.json\n"
      "  lampload recommend 'clubroom pendant' --channel clubroom_dimmer.json --table 12\n"
      "  lampload recommend 'stair candle'                    which of my channels takes it, best first\n"
      "  lampload recommend --channel 'stair dimmer'          which of my lamps suit it, from stored figures\n"
      "  lampload recommend 'stair candle' --channel 'stair dimmer' --label-dimmable unknown --json\n\n"
      "Exit status 1 says: done, and the lamp suits no mode of any channel asked about, or no lamp suits the channel.");
  command.runs([options] { return answer(*options); });
}

}  // namespace lampload
