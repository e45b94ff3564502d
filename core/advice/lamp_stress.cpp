#include "core/advice/constraint.h"

namespace lampload {
namespace {

constexpr double usual_factor = 2.0;  // common practice, no source

}  // namespace

// A cut squeezes the charge of a half cycle into a shorter pulse. What the lamp's input and its reservoir bear is heat:
// it goes with the rms current, and a reservoir's ripple current is what is left of it after the load's steady share.
std::optional<Constraint> lamp_stress(const Channel& channel, Mode mode, Missing& /*missing*/) {
  if (mode == Mode::on_off) return std::nullopt;
  const std::optional<double> asked = channel.limits.lamp_stress_factor;
  return Constraint{
      .name = "lamp_stress",
      .quantity = "rms input current over that of the uncut lamp",
      .unit = "",
      .source = asked ? "limits.lamp_stress_factor" : "common practice, no source",
      .limit = asked.value_or(usual_factor),
      .eases = true,
      .advice = !asked,
      .of_compared = [](const SteadyFigures& here, const SteadyFigures& uncut) { return here.rms_a / uncut.rms_a; }};
}

}  // namespace lampload
