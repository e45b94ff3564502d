#include "core/advice/constraint.h"

namespace lampload {
namespace {

bool knows_its_loss(const Output& output, Missing& missing) {
  const std::size_t known = missing.size();
  if (!output.max_junction_c) missing.emplace_back("switch_temperature: output.max_junction_c");
  if (!output.ambient_c) missing.emplace_back("switch_temperature: output.ambient_c");
  if (!output.on_resistance_ohm && !output.on_voltage_v) {
    missing.emplace_back("switch_temperature: output.on_resistance_ohm or output.on_voltage_v");
  }
  return missing.size() == known;
}

}  // namespace

// Loss of a path with a threshold V and a slope R: V times the mean of |i| plus R times the square of the rms current.
// Back-to-back channels: 2 Rds; bridge and switch: two junctions; triac: one. With it what the edges cost, and what an
// avalanche takes up at each cut.
std::optional<Constraint> switch_temperature(const Channel& channel, Mode mode, Missing& missing) {
  const Output& output = channel.output;
  const bool thermal = output.thermal_resistance_k_per_w.has_value();
  if (!thermal) missing.emplace_back("switch_temperature: output.thermal_resistance_k_per_w");
  if (!knows_its_loss(output, missing) || !thermal) return std::nullopt;
  const bool cuts = mode != Mode::on_off && output.switch_kind != SwitchKind::triac;
  if (cuts && !output.edge_time_s) missing.emplace_back("switch_temperature: output.edge_time_s (switching loss)");
  const Conduction on = path_of(channel, channel.supply.voltage_v).on;
  const double ambient_c = *output.ambient_c;
  const double k_per_w = *output.thermal_resistance_k_per_w;
  const double edges = output.edge_time_s ? 1.0 : 0.0;
  const double avalanches_hz = output.avalanche_energy_j ? 2.0 * channel.supply.frequency_hz : 0.0;
  return Constraint{
      .name = "switch_temperature",
      .quantity = cuts ? "junction temperature from conduction and switching loss"
                       : "junction temperature from conduction loss",
      .unit = "degC",
      .source = "channel ratings, output.max_junction_c and thermal resistance; loss by threshold and slope",
      .limit = *output.max_junction_c,
      .of_steady = [=](const SteadyFigures& figures) {
        const double loss_w = on.threshold_v * figures.mean_abs_a + on.slope_ohm * figures.rms_a * figures.rms_a +
                              edges * figures.switching_w + avalanches_hz * figures.clamp_j;
        return ambient_c + k_per_w * loss_w;
      }};
}

// The surge comes on top of the temperature that the switch has in operation: it may have been on until just now.
std::optional<Constraint> surge_temperature(const Channel& channel, Mode /*mode*/, Missing& missing) {
  const Output& output = channel.output;
  if (output.switch_kind == SwitchKind::relay) return std::nullopt;
  if (!output.pulse_10ms_k_per_w) {
    missing.emplace_back("switch_temperature: output.pulse_10ms_k_per_w (heating by the surge)");
    return std::nullopt;
  }
  Missing said_already;
  if (!knows_its_loss(output, said_already) || !output.thermal_resistance_k_per_w) return std::nullopt;
  const double ambient_c = *output.ambient_c;
  const double k_per_w = *output.thermal_resistance_k_per_w;
  return Constraint{
      .name = "switch_temperature",
      .quantity = "junction temperature within the surge, switched on again while hot,",
      .unit = "degC",
      .source = "channel ratings, output.max_junction_c and output.pulse_10ms_k_per_w; rise with the root of time",
      .limit = *output.max_junction_c,
      .running = true,
      .of_turn_on = [=](const TurnOnFigures& figures) {
        return ambient_c + k_per_w * figures.running_w + figures.junction_rise_k;
      }};
}

}  // namespace lampload
