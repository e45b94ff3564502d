#pragma once
// A passive damper: a resistance and a capacitor in series across the terminals, which takes the ringing out of a
// dimmer's choke and holds its triac.

#include <cmath>

#include "core/lamp/one_port.h"
#include "core/lamp/relaxation.h"

namespace lampload {

namespace damper {
inline constexpr std::string_view part = "damper";
inline constexpr std::array<ParameterSpec, 2> parameters = {{
    {.name = "damper_capacitance_f",
     .unit = "F",
     .meaning = "capacitance of a series R-C branch across the terminals",
     .lower = 1e-9,
     .upper = 1e-5,
     .optional = true,
     .identified_by = "leading_edge",
     .part = part},
    {.name = "damper_resistance_ohm",
     .unit = "Ohm",
     .meaning = "resistance in series with it",
     .lower = 1.0,
     .upper = 1e5,
     .optional = true,
     .identified_by = "leading_edge",
     .part = part},
}};
inline constexpr StateSpec state = {
    .name = "damper_voltage_v", .unit = "V", .lower = -1500.0, .upper = 1500.0, .rest = 0.0, .part = part};
}  // namespace damper

/// The branch on a ramp of voltage, exact for any step.
template <class T>
class Damper {
 public:
  /// As in the table.
  Damper(const T& capacitance_f, const T& resistance_ohm)
      : capacitance_f_(capacitance_f),
        conductance_s_(1.0 / resistance_ohm),
        inverse_tau_(1.0 / (resistance_ohm * capacitance_f)) {}

  /// capacitor_v: across the capacitor.
  Step<T> advance(T& capacitor_v, const T& v0, const T& v1, double dt_s) const {
    const T steps = dt_s * inverse_tau_;
    const auto p = phi(T(-steps));
    const T change = steps * (p.phi1 * (v0 - capacitor_v) + p.phi2 * (v1 - v0));
    capacitor_v += change;
    return {(v1 - capacitor_v) * conductance_s_, capacitance_f_ * change};
  }

 private:
  T capacitance_f_, conductance_s_, inverse_tau_;
};

}  // namespace lampload
