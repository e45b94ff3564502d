#include <algorithm>

#include "core/advice/constraint.h"

namespace lampload {

// What source, cable and choke hold when a trailing edge cuts goes into the switch (or its clamp), and with it what the
// supply and an inductive lamp push through until the current has ended: 1/2 L I^2 times V / (V - supply) at a clamp V.
std::optional<Constraint> turn_off_energy(const Channel& channel, Mode mode, Missing& missing) {
  if (mode != Mode::trailing_edge) return std::nullopt;
  if (!channel.output.avalanche_energy_j) {
    missing.emplace_back("turn_off_energy: output.avalanche_energy_j");
    return std::nullopt;
  }
  return Constraint{
      .name = "turn_off_energy",
      .quantity = "energy into the switch at the cut",
      .unit = "J",
      .source = "channel rating, output.avalanche_energy_j; L I2 / 2, or what the open switch takes up",
      .limit = *channel.output.avalanche_energy_j,
      .of_steady = [](const SteadyFigures& figures) { return std::max(figures.cut_energy_j, figures.clamp_j); }};
}

}  // namespace lampload
