#include "core/circuit/edge_loss.h"

#include <algorithm>
#include <cmath>
#include <memory>
#include <vector>

namespace lampload {

double edge_loss_j(const Network& network, double supply_v, double start_v, double end_v, double edge_s) {
  constexpr int parts = 24;
  std::vector<std::unique_ptr<LampDevice>> lamps;
  for (const auto& device : network.devices()) lamps.push_back(device->clone());
  const double dt = edge_s / parts;
  const bool closing = std::abs(supply_v - end_v) < std::abs(supply_v - start_v);
  const double first_a = closing ? 0.0 : network.now().current_a;
  double loss_j = 0.0;
  double before_w = first_a * (supply_v - start_v);
  for (int k = 0; k < parts; ++k) {
    const double v0 = std::lerp(start_v, end_v, static_cast<double>(k) / parts);
    const double v1 = std::lerp(start_v, end_v, static_cast<double>(k + 1) / parts);
    double current_a = 0.0;
    for (std::size_t i = 0; i < lamps.size(); ++i) {
      current_a += network.counts()[i] * lamps[i]->advance(v0, v1, dt).current_a;
    }
    if (closing && network.path().inductance_h > 0.0) {
      const double most_a = std::abs(supply_v - start_v) * dt * (k + 1) / network.path().inductance_h;
      current_a = std::clamp(current_a, -most_a, most_a);
    }
    // what flows back against the switch's voltage is the lamps' own charge, which stays with them
    const double after_w = std::max(0.0, current_a * (supply_v - v1));
    loss_j += 0.5 * dt * (std::max(0.0, before_w) + after_w);
    before_w = after_w;
  }
  return loss_j;
}

}  // namespace lampload
