#include "core/advice/constraint.h"
#include "core/standards/cable.h"

namespace lampload {

std::optional<Constraint> voltage_drop(const Channel& channel, Mode /*mode*/, Missing& missing) {
  if (!channel.cable) {
    missing.emplace_back("voltage_drop: cable");
    return std::nullopt;
  }
  const std::optional<double> asked = channel.limits.voltage_drop_percent;
  const double ohm = cable_impedance(channel.cable->length_m, channel.cable->conductor_mm2).resistance_ohm;
  const double percent_per_a = 100.0 * ohm / channel.supply.voltage_v;
  return Constraint{
      .name = "voltage_drop",
      .quantity = "voltage drop along the cable, of the supply,",
      .unit = "%",
      .source = asked ? "limits.voltage_drop_percent; resistances of IEC 60228 at 70 degC"
                      : "BS 7671 appendix 4, lighting (from memory); resistances of IEC 60228 at 70 degC",
      .limit = asked.value_or(usual_lighting_drop_percent),
      .advice = !asked,
      .of_steady = [percent_per_a](const SteadyFigures& figures) { return percent_per_a * figures.rms_a; }};
}

}  // namespace lampload
