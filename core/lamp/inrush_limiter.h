#pragma once
// An inrush limiter: a thermistor in series with the bridge whose resistance falls as its own loss warms it. The usual
// exponential law R(T) = R25 exp(B (1/T - 1/298.15 K)) and one lumped heat balance
//   C dT/dt = i^2 R(T) - D (T - 298.15 K),   C = D * time constant.

#include <array>
#include <cmath>

#include "core/lamp/chain.h"
#include "core/lamp/one_port.h"
#include "core/lamp/relaxation.h"

namespace lampload {

namespace ntc {
inline constexpr std::string_view part = "ntc";
inline constexpr double ambient_k = 298.15;
/// The state is held inside these, whatever the parameters and the current.
inline constexpr double lowest_k = 250.0;
inline constexpr double highest_k = 800.0;
/// What is usual of discs of 5 to 15 mm: B 2600 to 3500 K, 4 to 15 mW/K, 15 to 60 s. Common practice, no source.
inline constexpr std::array<ParameterSpec, 4> parameters = {{
    {.name = "ntc_resistance_ohm",
     .unit = "Ohm",
     .meaning = "resistance of an inrush limiter (NTC) at 25 degC, ahead of the bridge, beside series_resistance_ohm",
     .lower = 0.5,
     .upper = 1000.0,
     .optional = true,
     .identified_by = "turn_on",
     .part = part},
    {.name = "ntc_b_k",
     .unit = "K",
     .meaning = "its B value: R(T) = R25 exp(B (1/T - 1/298.15 K))",
     .lower = 1500.0,
     .upper = 5500.0,
     .scale = 3000.0,
     .optional = true,
     .prior_sd = 0.1,
     .identified_by = "leading_edge",
     .part = part},
    {.name = "ntc_dissipation_w_per_k",
     .unit = "W/K",
     .meaning = "what it gives off for each kelvin above 25 degC",
     .lower = 5e-4,
     .upper = 0.2,
     .scale = 7e-3,
     .optional = true,
     .prior_sd = 0.7,
     .identified_by = "leading_edge",
     .part = part},
    {.name = "ntc_time_constant_s",
     .unit = "s",
     .meaning = "time in which it cools by 1/e, hence its heat capacity",
     .lower = 1.0,
     .upper = 300.0,
     .scale = 30.0,
     .optional = true,
     .prior_sd = 0.5,
     .identified_by = "turn_on",
     .part = part},
}};
inline constexpr StateSpec state = {.name = "ntc_temperature_k",
                                    .unit = "K",
                                    .lower = lowest_k,
                                    .upper = highest_k,
                                    .rest = ambient_k,
                                    .typical = 100.0,
                                    .part = part,
                                    .time_constant = "ntc_time_constant_s"};
}  // namespace ntc

template <class T>
class InrushLimiter {
 public:
  /// As in the table.
  InrushLimiter(const T& resistance_ohm, const T& b_k, const T& dissipation_w_per_k, const T& time_constant_s)
      : resistance_ohm_(resistance_ohm),
        b_k_(b_k),
        inverse_tau_(1.0 / time_constant_s),
        inverse_capacity_(inverse_tau_ / dissipation_w_per_k) {}

  T resistance_ohm(const T& temperature_k) const {
    using std::exp;
    return resistance_ohm_ * exp(b_k_ * (1.0 / temperature_k - 1.0 / ntc::ambient_k));
  }

  /// Temperature after a step with this mean square of the current: the balance linearised at its start and then solved
  /// exactly, so that no step overshoots.
  T warmed(const T& temperature_k, const T& mean_square_a2, double dt_s) const {
    const T heating = resistance_ohm(temperature_k) * mean_square_a2 * inverse_capacity_;  // K/s
    const T rate = heating - (temperature_k - ntc::ambient_k) * inverse_tau_;
    const T slope = -(heating * b_k_ / (temperature_k * temperature_k) + inverse_tau_);
    const T after = temperature_k + dt_s * phi(T(dt_s * slope)).phi1 * rate;
    if (!(value_of(after) > ntc::lowest_k)) return T(ntc::lowest_k);
    if (value_of(after) > ntc::highest_k) return T(ntc::highest_k);
    return after;
  }

 private:
  T resistance_ohm_, b_k_, inverse_tau_, inverse_capacity_;
};

/// Mean square of a current over a step, by the parabola through its ends that has its mean.
template <class T>
T mean_square(const T& from_a, const T& to_a, const T& mean_a) {
  const T sum = from_a + to_a;
  const T bulge = 6.0 * mean_a - 3.0 * sum;
  return (sum * sum - from_a * to_a) * (1.0 / 3.0) + bulge * (sum * (1.0 / 6.0) + bulge * (1.0 / 30.0));
}

}  // namespace lampload
