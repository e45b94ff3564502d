#include "core/advice/constraint.h"

namespace lampload {

// Loss of a path with a threshold V and a slope R: V times the mean of |i| plus R times the square of the rms current.
// Back-to-back channels: 2 Rds (given as one on_resistance_ohm); bridge and switch: two junctions; triac: one.
std::optional<Constraint> switch_temperature(const Channel& channel, Mode /*mode*/, Missing& missing) {
  const Output& output = channel.output;
  const std::size_t known = missing.size();
  if (!output.thermal_resistance_k_per_w) missing.emplace_back("switch_temperature: output.thermal_resistance_k_per_w");
  if (!output.max_junction_c) missing.emplace_back("switch_temperature: output.max_junction_c");
  if (!output.ambient_c) missing.emplace_back("switch_temperature: output.ambient_c");
  if (!output.on_resistance_ohm && !output.on_voltage_v) {
    missing.emplace_back("switch_temperature: output.on_resistance_ohm or output.on_voltage_v");
  }
  if (missing.size() != known) return std::nullopt;
  const Conduction on = path_of(channel, channel.supply.voltage_v).on;
  const double ambient_c = *output.ambient_c;
  const double k_per_w = *output.thermal_resistance_k_per_w;
  return Constraint{
      .name = "switch_temperature",
      .quantity = "junction temperature from conduction loss",
      .unit = "degC",
      .source = "channel ratings, output.max_junction_c and thermal resistance; loss by threshold and slope",
      .limit = *output.max_junction_c,
      .of_steady = [on, ambient_c, k_per_w](const SteadyFigures& figures) {
        const double loss_w = on.threshold_v * figures.mean_abs_a + on.slope_ohm * figures.rms_a * figures.rms_a;
        return ambient_c + k_per_w * loss_w;
      }};
}

}  // namespace lampload
