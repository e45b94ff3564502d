#include <fmt/format.h>

#include <algorithm>

#include "core/advice/constraint.h"

namespace lampload {
namespace {

constexpr double usual_factor = 2.0;  // common practice, no source

/// Over that of the uncut lamp, of the lamp where it is highest; 0 where no lamp has it.
struct Stress {
  double current = 0.0;  ///< rms
  double ripple = 0.0;   ///< of the reservoir, peak to peak
};

Stress stress_of(const SteadyFigures& here, const SteadyFigures& uncut) {
  Stress worst;
  const auto look = [](double& most, double value, double usual) {
    if (usual > 0.0) most = std::max(most, value / usual);
  };
  for (std::size_t i = 0; i < std::min(here.lamps.size(), uncut.lamps.size()); ++i) {
    look(worst.current, here.lamps[i].rms_a, uncut.lamps[i].rms_a);
    look(worst.ripple, here.lamps[i].ripple_v, uncut.lamps[i].ripple_v);
  }
  return worst;
}

}  // namespace

// A cut squeezes the charge of a half cycle into a shorter pulse, and leaves the reservoir alone for longer. What input
// and reservoir bear is heat, which goes with the rms current; how far the load discharges the reservoir is its ripple.
std::optional<Constraint> lamp_stress(const Channel& channel, Mode mode, Missing& /*missing*/) {
  if (mode == Mode::on_off) return std::nullopt;
  const std::optional<double> asked = channel.limits.lamp_stress_factor;
  return Constraint{.name = "lamp_stress",
                    .quantity = "a lamp's input current (rms) or reservoir ripple over that of the uncut lamp",
                    .unit = "",
                    .source = asked ? "limits.lamp_stress_factor" : "common practice, no source",
                    .limit = asked.value_or(usual_factor),
                    .eases = true,
                    .advice = !asked,
                    .of_compared =
                        [](const SteadyFigures& here, const SteadyFigures& uncut) {
                          const Stress stress = stress_of(here, uncut);
                          return std::max(stress.current, stress.ripple);
                        },
                    .tell_compared = [](const SteadyFigures& here, const SteadyFigures& uncut) -> std::string {
                      const Stress stress = stress_of(here, uncut);
                      if (stress.ripple == 0.0) return "";
                      return fmt::format(" (current {:.3g} times, ripple {:.3g} times)", stress.current, stress.ripple);
                    }};
}

}  // namespace lampload
