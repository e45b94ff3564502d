#include "core/circuit/warm_start.h"

#include <algorithm>

namespace lampload {

bool stays_warm(const Lamp& lamp) {
  const FamilyInfo& family = lamp.family();
  return std::any_of(family.states.begin(), family.states.end(), [&](const StateSpec& state) {
    return slow_time_s(state, family.parameters, lamp.parameters()) > 0.0;
  });
}

WarmStart warm_start(const Path& path, const Lamp& lamp, std::span<const Operation> operations) {
  if (!stays_warm(lamp)) return {};
  const FamilyInfo& family = lamp.family();
  WarmStart start;
  for (const StateSpec& state : family.states) start.state.push_back(state.rest);
  const LampGroup group{lamp, 1};
  for (std::size_t k = 0; k < operations.size(); ++k) {
    DrivenChannel channel(path, std::span(&group, 1), estimating);
    channel.steady(operations[k]);
    const std::vector<double> network = channel.state();
    const std::span<const double> running = std::span(network).subspan(Network::node_states);
    for (std::size_t s = 0; s < start.state.size(); ++s) {
      if (!(slow_time_s(family.states[s], family.parameters, lamp.parameters()) > 0.0)) continue;
      if (!(running[s] > start.state[s])) continue;
      start.state[s] = running[s];
      start.hottest = k;
    }
  }
  return start;
}

}  // namespace lampload
