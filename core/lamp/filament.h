#pragma once
// A tungsten filament: resistance by temperature, temperature by the heat balance
//   C(T) dT/dt = power - k (T^4 - Ta^4) (T / 2800 K)^n - g (T - Ta)
// with resistivity and specific heat from the published tables. The factor (T / 2800 K)^n stands for the emissivity of
// tungsten, which rises with temperature; n = 0.5 meets the published voltage exponents of current and power.

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <vector>

#include "core/lamp/one_port.h"
#include "core/lamp/relaxation.h"
#include "core/lamp/tungsten.h"

namespace lampload {

struct Filament {
  static constexpr double ambient_k = 300.0;
  static constexpr double emissivity_reference_k = 2800.0;
  /// The state is held inside these whatever the parameters and the voltage; a real filament melts at 3695 K.
  static constexpr double lowest_k = 250.0;
  static constexpr double highest_k = 4500.0;

  static constexpr std::string_view name = "filament";
  static constexpr std::string_view load_law = "";
  static constexpr std::array<ParameterSpec, 6> parameters = {{
      {.name = "cold_resistance_ohm",
       .unit = "Ohm",
       .meaning = "resistance at 300 K",
       .lower = 1e-3,
       .upper = 1e5,
       .identified_by = "turn_on"},
      {.name = "radiation_w_per_k4",
       .unit = "W/K^4",
       .meaning = "radiated power over T^4 at 2800 K",
       .lower = 1e-16,
       .upper = 1e-8,
       .identified_by = "steady"},
      {.name = "heat_capacity_j_per_k",
       .unit = "J/K",
       .meaning = "heat capacity at 300 K",
       .lower = 1e-8,
       .upper = 10.0,
       .identified_by = "turn_on"},
      {.name = "emissivity_exponent",
       .unit = "",
       .meaning = "rise of emissivity with temperature",
       .lower = 0.0,
       .upper = 1.2,
       .logarithmic = false,
       .scale = 0.5,
       .optional = true,
       .absent = 0.5,
       .prior_sd = 0.4,
       .identified_by = "leading_edge"},
      {.name = "conduction_w_per_k",
       .unit = "W/K",
       .meaning = "heat loss through gas and leads",
       .lower = 1e-9,
       .upper = 10.0,
       .optional = true,
       .identified_by = "leading_edge"},
      {.name = "series_inductance_h",
       .unit = "H",
       .meaning = "inductance of leads and coil",
       .lower = 1e-7,
       .upper = 0.1,
       .optional = true,
       .identified_by = "leading_edge"},
  }};
  static constexpr std::array<StateSpec, 2> states = {{
      {.name = "temperature_k", .unit = "K", .lower = lowest_k, .upper = highest_k, .rest = ambient_k},
      {.name = "current_a", .unit = "A", .lower = -1e6, .upper = 1e6, .rest = 0.0},
  }};

  template <class T>
  class Model {
   public:
    explicit Model(std::span<const T> p)
        : cold_conductance_s_(1.0 / p[0]),
          cold_resistance_ohm_(p[0]),
          radiation_(p[1]),
          inverse_heat_capacity_(1.0 / p[2]),
          exponent_(p[3]),
          conduction_(p[4]),
          inductance_h_(p[5]) {}

    Step<T> advance(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s) const {
      T& temperature_k = state[0];
      const auto ratio = tungsten_resistivity_ratio(temperature_k);
      const T conductance_s = cold_conductance_s_ / ratio.value;
      if (value_of(inductance_h_) > 0.0) {
        return advance_with_inductance(state, v0, v1, ratio, dt_s);
      }
      const T sum = v0 + v1;
      warm(temperature_k, (sum * sum - v0 * v1) * conductance_s * (1.0 / 3.0), ratio, dt_s);
      const T end_s = cold_conductance_s_ / tungsten_resistivity_ratio(temperature_k).value;
      state[1] = end_s * v1;
      // exact for voltage and conductance both linear over the step
      return {state[1], (conductance_s * (v0 + sum) + end_s * (v1 + sum)) * (dt_s / 6.0)};
    }

    /// Radiated and conducted power at a temperature, and its slope [W/K].
    tungsten::Local<T> loss(const T& temperature_k) const {
      const double t = value_of(temperature_k);
      const double n = value_of(exponent_);
      const double ln_u = std::log(t / emissivity_reference_k);
      const double u_n = std::exp(n * ln_u);
      const double t3 = t * t * t;
      const double ambient4 = ambient_k * ambient_k * ambient_k * ambient_k;
      const double above = t3 * t - ambient4;
      // value, slope by T, curvature by T, slope by n, mixed slope of (T^4 - Ta^4) u^n
      const double value = above * u_n;
      const double slope = (4.0 * t3 + n * above / t) * u_n;
      const double curvature = (12.0 * t * t + 8.0 * n * t * t + n * (n - 1.0) * above / (t * t)) * u_n;
      const T dt = temperature_k - t;
      const T dn = exponent_ - n;
      return {radiation_ * (value + slope * dt + value * ln_u * dn) + conduction_ * (temperature_k - ambient_k),
              radiation_ * (slope + curvature * dt + (slope * ln_u + above / t * u_n) * dn) + conduction_};
    }

   private:
    /// One step of the heat balance linearised at its start and then solved exactly (exponential Rosenbrock rule,
    /// second order, no overshoot however long the step). power_w is the electrical power at the present temperature;
    /// it falls as the resistance rises.
    void warm(T& temperature_k, const T& power_w, const tungsten::Local<T>& ratio, double dt_s) const {
      const auto out = loss(temperature_k);
      const auto heat = tungsten_heat_ratio(temperature_k);
      const T inverse_c = inverse_heat_capacity_ / heat.value;
      const T rate = (power_w - out.value) * inverse_c;
      const T jacobian =
          (-power_w * ratio.slope / ratio.value - out.slope) * inverse_c - rate * heat.slope / heat.value;
      const T z = jacobian * dt_s;
      temperature_k += rate * (value_of(z) < 1.0 ? phi(z).phi1 : T(1.0)) * dt_s;
      if (!(value_of(temperature_k) > lowest_k)) temperature_k = T(lowest_k);
      if (value_of(temperature_k) > highest_k) temperature_k = T(highest_k);
    }

    Step<T> advance_with_inductance(std::array<T, 2>& state, const T& v0, const T& v1, const tungsten::Local<T>& ratio,
                                    double dt_s) const {
      const T i0 = state[1];
      const T start_ohm = cold_resistance_ohm_ * ratio.value;
      warm(state[0], respond(i0, v0, v1, start_ohm, dt_s).heat_j * (1.0 / dt_s), ratio, dt_s);
      const T end_ohm = cold_resistance_ohm_ * tungsten_resistivity_ratio(state[0]).value;
      state[1] = respond(i0, v0, v1, end_ohm, dt_s).current_a;
      return {state[1], respond(i0, v0, v1, 0.5 * (start_ohm + end_ohm), dt_s).charge_c};
    }

    struct Response {
      T current_a, charge_c, heat_j;
    };

    /// Resistance and inductance on a ramp of voltage, exact: current at the end, charge, heat in the resistance.
    Response respond(const T& i0, const T& v0, const T& v1, const T& resistance_ohm, double dt_s) const {
      const auto p = phi(T(-dt_s * resistance_ohm / inductance_h_));
      const T start = (v0 - resistance_ohm * i0) * dt_s / inductance_h_;
      const T ramp = (v1 - v0) * dt_s / inductance_h_;
      const T i1 = i0 + p.phi1 * start + p.phi2 * ramp;
      const T charge = (i0 + p.phi2 * start + p.phi3 * ramp) * dt_s;
      const T taken = v1 * charge - (v1 - v0) * (0.5 * i0 + p.phi3 * start + p.phi4 * ramp) * dt_s;
      return {i1, charge, taken - 0.5 * inductance_h_ * (i1 * i1 - i0 * i0)};
    }

    T cold_conductance_s_, cold_resistance_ohm_, radiation_, inverse_heat_capacity_, exponent_, conduction_,
        inductance_h_;
  };

  static std::vector<std::vector<double>> starts(const StartHints& hints);
  static std::vector<DerivedFigure> derived(std::span<const double> parameters, const OperatingPoint& at);
};

}  // namespace lampload
