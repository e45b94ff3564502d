#include "core/advice/constraint.h"

namespace lampload {

// What source, cable and choke hold when a trailing edge cuts goes into the switch (or its clamp).
std::optional<Constraint> turn_off_energy(const Channel& channel, Mode mode, Missing& missing) {
  if (mode != Mode::trailing_edge) return std::nullopt;
  if (!channel.output.avalanche_energy_j) {
    missing.emplace_back("turn_off_energy: output.avalanche_energy_j");
    return std::nullopt;
  }
  return Constraint{.name = "turn_off_energy",
                    .quantity = "energy in the inductances at the cut",
                    .unit = "J",
                    .source = "channel rating, output.avalanche_energy_j; L I2 / 2",
                    .limit = *channel.output.avalanche_energy_j,
                    .of_steady = [](const SteadyFigures& figures) { return figures.cut_energy_j; }};
}

}  // namespace lampload
