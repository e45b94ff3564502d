#include "core/advice/unsuited.h"

#include <fmt/format.h>

#include <algorithm>

namespace lampload {
namespace {

/// Highest voltage of the captures that show the whole mains; empty where none does.
std::optional<double> uncut_voltage_v(const LampEvidence& evidence) {
  std::optional<double> highest;
  for (const Figures& figures : evidence.measured) {
    if (figures.direct || figures.cut.edge != Edge::none || !(figures.voltage_rms_v > 0.0)) continue;
    highest = std::max(highest.value_or(0.0), figures.voltage_rms_v);
  }
  return highest;
}

}  // namespace

std::optional<Unsuited> unsuited(const LampEvidence& evidence, const Channel& channel) {
  const OutputKind kind = channel.output.kind;
  const bool dc_channel = kind == OutputKind::dc_pwm || kind == OutputKind::dc_constant_current;
  const char* channel_gives = dc_channel ? "DC" : "mains";
  if (evidence.lamp) {
    const std::string_view family = evidence.lamp->family().name;
    const Feed feed = evidence.lamp->family().feed;
    const bool current = feed == Feed::dc_current;
    if (!fed_by_mains(feed)) {
      const OutputKind needed = current ? OutputKind::dc_constant_current : OutputKind::dc_pwm;
      if (kind == needed) return std::nullopt;
      const std::string gives =
          dc_channel ? fmt::format("{} DC", current ? "constant-voltage" : "constant-current") : std::string("mains");
      return Unsuited{
          fmt::format(
              "This lamp ({}) is fed with a constant {} of DC; the channel gives {}. No mode of it suits, and no "
              "count was made.",
              family, current ? "current" : "voltage", gives),
          fmt::format("A channel whose output is {}.", current ? "dc_constant_current" : "dc_pwm")};
    }
    if (dc_channel && !fed_by_dc(feed)) {
      return Unsuited{fmt::format("This lamp ({}) is fed with mains; the channel gives DC. No mode of it suits, and no "
                                  "count was made.",
                                  family),
                      "A channel whose output is phase_cut or relay."};
    }
  }
  // Which of both a lamp that takes either was measured on; where it has no family, the waveform alone counts.
  const auto on_channel = [&](const Figures& figures) { return figures.direct.has_value() == dc_channel; };
  if (!evidence.measured.empty() && std::none_of(evidence.measured.begin(), evidence.measured.end(), on_channel)) {
    return Unsuited{fmt::format("All captures of this lamp were taken on {}; the channel gives {}. No count was made.",
                                dc_channel ? "mains" : "DC", channel_gives),
                    fmt::format("Captures of the lamp on {}.", channel_gives)};
  }
  // The mains of one country are within a quarter of each other, those of 100 to 127 V and of 200 to 277 V are not.
  constexpr double same_mains = 1.4;
  const std::optional<double> measured_v = dc_channel ? std::nullopt : uncut_voltage_v(evidence);
  const double ratio = channel.supply.voltage_v / measured_v.value_or(channel.supply.voltage_v);
  if (ratio > same_mains || ratio < 1.0 / same_mains) {
    return Unsuited{
        fmt::format("This lamp was captured at {:.0f} V; the channel gives {:.0f} V. Whether it is made for that, and "
                    "what it does there, no capture shows. No count was made.",
                    *measured_v, channel.supply.voltage_v),
        fmt::format("Captures of the lamp at about {:.0f} V, if its label allows that.", channel.supply.voltage_v)};
  }
  return std::nullopt;
}

std::optional<std::string> unsuited_to_cuts(const LampEvidence& evidence) {
  if (!evidence.lamp || evidence.lamp->family().harmed_by_cuts.empty()) return std::nullopt;
  const FamilyInfo& family = evidence.lamp->family();
  return fmt::format("no phase cut suits such a lamp ({}): {}", family.name, family.harmed_by_cuts);
}

}  // namespace lampload
