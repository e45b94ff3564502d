#include <fmt/format.h>

#include <algorithm>

#include "core/advice/constraint.h"

namespace lampload {
namespace {

/// The standard's own condition for a dimmer: the setting with the most harmonics of a resistive load.
constexpr double dimmer_deg = 90.0;

bool limited(const Channel& channel, Missing& missing) {
  if (channel.supply.voltage_v >= least_limited_supply_v) return true;
  missing.emplace_back("harmonics: IEC 61000-3-2 sets nothing for supplies below 220 V");
  return false;
}

std::string told(const HarmonicUse& use) {
  const std::string order = use.order > 0 ? fmt::format("order {} is worst, ", use.order) : std::string();
  return fmt::format(" ({}{}; limits {}{})", order, use.rule, use.known == "from memory" ? "" : "known from ",
                     use.known);
}

}  // namespace

// One lamp without the channel's cut: what its maker answers for.
std::optional<Constraint> lamp_harmonics(const Channel& channel, Mode mode, Missing& missing) {
  if (mode != Mode::on_off || !limited(channel, missing)) return std::nullopt;
  return Constraint{.name = "harmonics",
                    .quantity = "harmonic currents of the uncut lamp, of their limit,",
                    .unit = "%",
                    .source = "IEC 61000-3-2, class C",
                    .limit = 100.0,
                    .eases = true,
                    .advice = !channel.limits.harmonics.value_or(false),
                    .of_one = true,
                    .at_deg = {180.0},
                    .of_cycle = [](const LineCycle& cycle) { return 100.0 * class_c_use(cycle.harmonics).share; },
                    .tell_cycle = [](const LineCycle& cycle) { return told(class_c_use(cycle.harmonics)); }};
}

// All lamps together: an independent phase-control dimmer keeps to class A.
std::optional<Constraint> channel_harmonics(const Channel& channel, Mode mode, Missing& missing) {
  if (mode == Mode::on_off || !limited(channel, missing)) return std::nullopt;
  const double at_deg = std::clamp(dimmer_deg, channel.output.min_conduction_deg.value_or(0.0),
                                   channel.output.max_conduction_deg.value_or(180.0));
  return Constraint{.name = "harmonics",
                    .quantity = "harmonic currents of the channel, of their limit,",
                    .unit = "%",
                    .source = "IEC 61000-3-2, class A for independent phase-control dimmers",
                    .limit = 100.0,
                    .advice = !channel.limits.harmonics.value_or(false),
                    .at_deg = {at_deg},
                    .of_cycle = [](const LineCycle& cycle) { return 100.0 * class_a_use(cycle.harmonics).share; },
                    .tell_cycle = [](const LineCycle& cycle) { return told(class_a_use(cycle.harmonics)); }};
}

}  // namespace lampload
