#include "core/advice/confidence.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>

namespace lampload {
namespace {

constexpr std::array<const char*, 3> levels = {"extrapolated", "interpolated", "measured"};

const char* in_words(Mode mode) {
  switch (mode) {
    case Mode::leading_edge:
      return "behind a leading edge";
    case Mode::trailing_edge:
      return "behind a trailing edge";
    default:
      return "uncut";
  }
}

struct Basis {
  int level = 0;
  std::string reason;
};

Basis by_captures(const LampEvidence& lamp, Mode mode, const Channel& channel) {
  const Edge edge = mode == Mode::leading_edge    ? Edge::leading
                    : mode == Mode::trailing_edge ? Edge::trailing
                                                  : Edge::none;
  const bool at_crossing = channel.output.zero_cross_turn_on.value_or(false);
  bool operation = false;
  bool uncut = false;
  bool inrush = at_crossing;
  for (const Figures& figures : lamp.measured) {
    const bool steady = figures.steady_last > figures.steady_first || figures.active_power_w > 0.0;
    operation = operation || (steady && figures.cut.edge == edge);
    uncut = uncut || (steady && figures.cut.edge == Edge::none);
    inrush = inrush || figures.inrush.has_value();
  }
  const std::string turn_on = at_crossing ? "" : " and at a turn-on";
  if (operation && inrush) return {2, fmt::format("the lamp was captured {}{}", in_words(mode), turn_on)};
  if (operation) return {1, fmt::format("the lamp was captured {}, but not at a turn-on", in_words(mode))};
  if (uncut && inrush) return {1, fmt::format("the lamp was captured uncut{}, but not {}", turn_on, in_words(mode))};
  return {0,
          fmt::format("the lamp was not captured {}{}", in_words(mode), inrush ? ", nor uncut" : ", nor at a turn-on")};
}

}  // namespace

Confidence confidence_of(const LampEvidence& lamp, Mode mode, const Channel& channel) {
  Basis basis = by_captures(lamp, mode, channel);
  std::map<std::string, const ChannelEvidence*> last;  // by channel; the list is in the order of time
  for (const ChannelEvidence& one : lamp.compared) {
    if (one.mode == mode) last[one.channel] = &one;
  }
  Confidence answer;
  const ChannelEvidence* agreeing = nullptr;
  bool contradicted = false;
  for (const auto& [name, one] : last) {
    if (one->agrees) {
      agreeing = one;
      continue;
    }
    contradicted = true;
    answer.cautions.push_back(fmt::format("A finished channel did something else: {} with {} lamp{}, {}: {}.", name,
                                          one->count, one->count == 1 ? "" : "s", one->time_utc.substr(0, 10),
                                          one->finding));
  }
  if (contradicted) {
    basis.level = std::max(0, basis.level - 1);
    basis.reason += "; a finished channel did not do what was predicted";
  } else if (agreeing != nullptr) {
    basis.level = std::min(2, basis.level + 1);
    basis.reason += fmt::format("; {} with {} lamp{} did what was predicted", agreeing->channel, agreeing->count,
                                agreeing->count == 1 ? "" : "s");
  }
  answer.level = levels.at(static_cast<std::size_t>(basis.level));
  answer.reason = basis.reason;
  return answer;
}

}  // namespace lampload
