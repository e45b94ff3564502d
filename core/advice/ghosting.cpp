#include "core/advice/constraint.h"

namespace lampload {
namespace {

constexpr double usual_percent =
    0.1;  // of the uncut power: a glow that is seen in the dark; common practice, no source

}  // namespace

// While the output is off, its snubber and its leakage (an output without neutral: its own supply) feed the lamps.
// A lamp starts when its bus reaches what it lights from: that is in its circuit, and shows as power.
std::optional<Constraint> ghosting(const Channel& channel, Mode /*mode*/, Missing& missing) {
  const Output& output = channel.output;
  const bool two_wire = !output.neutral.value_or(true) && output.two_wire_supply_a.value_or(0.0) > 0.0;
  if (output.snubber_f.value_or(0.0) <= 0.0 && !output.off_leakage_a && !two_wire) {
    if (output.switch_kind != SwitchKind::relay) {
      missing.emplace_back("ghosting: output.snubber_f or output.off_leakage_a");
    }
    return std::nullopt;
  }
  const std::optional<double> asked = channel.limits.ghosting_percent;
  return Constraint{.name = "ghosting",
                    .quantity = "power into the lamps while off, of their uncut power,",
                    .unit = "%",
                    .source = asked ? "limits.ghosting_percent" : "common practice, no source",
                    .limit = asked.value_or(usual_percent),
                    .eases = true,
                    .advice = !asked,
                    .at_deg = {0.0},
                    .of_off = [](const SteadyFigures& off, const SteadyFigures& uncut) {
                      return 100.0 * off.lamp_power_w / uncut.lamp_power_w;
                    }};
}

}  // namespace lampload
