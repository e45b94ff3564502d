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

#include "core/lamp/chain.h"
#include "core/lamp/one_port.h"
#include "core/lamp/relaxation.h"
#include "core/lamp/schematic.h"
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
  static constexpr double rarity = 0.0;
  static constexpr Feed feed = Feed::mains_or_dc;
  static constexpr std::string_view plain_until = "turn_on";  // a thick one hardly cools between two crests
  static constexpr std::array<ParameterSpec, 6> parameters = {{
      {.name = "cold_resistance_ohm",
       .unit = "Ohm",
       .meaning = "resistance at 300 K",
       .lower = 1e-3,
       .upper = 1e5,
       .model_sd = 0.01,
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
       .model_sd = 0.016,
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
  static constexpr std::array<SchematicPart, 2> schematic = {{
      {Symbol::inductor, Placement::in_series, {"series_inductance_h"}},
      {Symbol::filament,
       Placement::across,
       {"cold_resistance_ohm", "radiation_w_per_k4", "heat_capacity_j_per_k", "emissivity_exponent",
        "conduction_w_per_k"}},
  }};
  static constexpr std::array<StateSpec, 2> states = {{
      {.name = "temperature_k", .unit = "K", .lower = lowest_k, .upper = highest_k, .rest = ambient_k},
      {.name = "current_a", .unit = "A", .lower = -1e6, .upper = 1e6, .rest = 0.0},
  }};

  template <class T>
  class Model {
   public:
    explicit Model(std::span<const T> p)
        : cold_conductance_s_(T(1.0 / p[0])),
          cold_resistance_ohm_(p[0]),
          radiation_(p[1]),
          inverse_heat_capacity_(T(1.0 / p[2])),
          exponent_(p[3]),
          conduction_(p[4]),
          inductance_h_(p[5]) {}

    /// V: T, or double where the voltage is known.
    template <class V>
    Step<T> advance(std::array<T, 2>& state, const V& v0, const V& v1, double dt_s) const {
      if (value_of(inductance_h_) > 0.0) {
        return advance_with_inductance(state, T(v0), T(v1), dt_s);
      }
      return advance_resistive(state, v0, v1, dt_s);
    }

    /// Radiated and conducted power at a temperature, and its slope [W/K].
    tungsten::Local<T> loss(const T& temperature_k) const {
      const double t = value_of(temperature_k);
      const Radiated r = radiated(t);
      const T dt = temperature_k - t;
      const T dn = exponent_.whole() - exponent_.value();
      return {radiation_.whole() * (r.value + r.slope * dt + r.by_exponent * dn) +
                  conduction_.whole() * (temperature_k - ambient_k),
              radiation_.whole() * (r.slope + r.curvature * dt + r.slope_by_exponent * dn) + conduction_.whole()};
    }

   private:
    /// (T^4 - Ta^4) (T / 2800 K)^n and its slopes by T and n.
    struct Radiated {
      double value, slope, curvature, by_exponent, slope_by_exponent;
    };
    Radiated radiated(double t) const {
      const double n = exponent_.value();
      const double u = t / emissivity_reference_k;
      // The logarithm is wanted for an unusual exponent, and for the slopes by it.
      const bool usual = n == 0.5;
      const double ln_u = usual && exponent_.fixed() ? 0.0 : std::log(u);
      const double u_n = usual ? std::sqrt(u) : std::exp(n * ln_u);
      const double t2 = t * t;
      const double above = (t2 * t2 - ambient_k * ambient_k * ambient_k * ambient_k) * u_n;
      const double slope = 4.0 * t2 * t * u_n + n * above / t;
      return {above, slope, (12.0 + 8.0 * n) * t2 * u_n + n * (n - 1.0) * above / t2, above * ln_u,
              slope * ln_u + above / t};
    }

    /// One step of the heat balance linearised at its start and then solved exactly (exponential Rosenbrock rule,
    /// second order, no overshoot however long the step). power_w is the electrical power at the present temperature;
    /// it falls as the resistance rises.
    void warm(T& temperature_k, const T& power_w, const tungsten::Local<T>& ratio, double dt_s) const {
      const auto out = loss(temperature_k);
      const auto heat = tungsten_heat_ratio(temperature_k);
      const T inverse_c = inverse_heat_capacity_.whole() / heat.value;
      const T rate = (power_w - out.value) * inverse_c;
      const T jacobian =
          (-power_w * ratio.slope / ratio.value - out.slope) * inverse_c - rate * heat.slope / heat.value;
      const T z = jacobian * dt_s;
      temperature_k += rate * (value_of(z) < 1.0 ? phi(z).phi1 : T(1.0)) * dt_s;
      if (!(value_of(temperature_k) > lowest_k)) temperature_k = T(lowest_k);
      if (value_of(temperature_k) > highest_k) temperature_k = T(highest_k);
    }

    /// The usual step, without inductance: the same rule as warm(), in plain numbers with its partial derivatives.
    template <class V>
    Step<T> advance_resistive(std::array<T, 2>& state, const V& v0, const V& v1, double dt_s) const {
      const double t = value_of(state[0]);
      const double u0 = value_of(v0);
      const double u1 = value_of(v1);
      const double cold_s = cold_conductance_s_.value();
      const auto rho = tungsten::look_up(tungsten::resistivity_ratio, t);
      const auto heat = tungsten::look_up(tungsten::heat_ratio, t);
      const auto out = radiated(t);
      const double square = (u0 * u0 + u0 * u1 + u1 * u1) / 3.0;
      const double power = square * cold_s / rho.value;
      const double bend = rho.slope / rho.value;
      const double inverse_c = inverse_heat_capacity_.value() / heat.value;
      const double stiff = heat.slope / heat.value;
      const double radiation = radiation_.value();
      const double conduction = conduction_.value();
      const double surplus = power - radiation * out.value - conduction * (t - ambient_k);
      const double falling = power * bend + radiation * out.slope + conduction;
      const double rate = surplus * inverse_c;
      const double jacobian = -falling * inverse_c - rate * stiff;
      const double z = jacobian * dt_s;
      const bool normal = z < 1.0;
      const auto p = normal ? phi_values(z) : std::array<double, 5>{1.0};
      const double after = t + rate * p[0] * dt_s;
      const double conductance0 = cold_s / rho.value;

      const T start = state[0];
      if (after > lowest_k && after < highest_k) {
        const double by_rate = p[0] * dt_s;
        const double by_jacobian = normal ? (p[0] - p[1]) * rate * dt_s * dt_s : 0.0;
        // a quantity that adds x to the surplus and y to the falling
        const auto by = [&](double x, double y) { return (by_rate * x - by_jacobian * (y + x * stiff)) * inverse_c; };
        const double by_power = by(1.0, bend);
        const double falling_by_t =
            -power * bend * bend + power * (rho.curvature / rho.value - bend * bend) + radiation * out.curvature;
        const double by_t = 1.0 + by_rate * jacobian +
                            by_jacobian * (-falling_by_t * inverse_c + falling * inverse_c * stiff - jacobian * stiff -
                                           rate * (heat.curvature / heat.value - stiff * stiff));
        state[0] = chain(after, Partial<T>{by_t, start}, LonePartial{by_power * power / cold_s, cold_conductance_s_},
                         Partial<V>{by_power * conductance0 * (2.0 * u0 + u1) / 3.0, v0},
                         Partial<V>{by_power * conductance0 * (2.0 * u1 + u0) / 3.0, v1},
                         LonePartial{by(-out.value, out.slope), radiation_},
                         LonePartial{radiation * by(-out.by_exponent, out.slope_by_exponent), exponent_},
                         LonePartial{by(ambient_k - t, 1.0), conduction_},
                         LonePartial{(by_rate * rate + by_jacobian * jacobian) / inverse_heat_capacity_.value(),
                                     inverse_heat_capacity_});
      } else {
        state[0] = T(std::clamp(after, lowest_k, highest_k));
      }
      const double end = value_of(state[0]);
      const auto rho1 = tungsten::look_up(tungsten::resistivity_ratio, end);
      const double conductance1 = cold_s / rho1.value;
      const double current = conductance1 * u1;
      state[1] = chain(current, Partial<T>{-current * rho1.slope / rho1.value, state[0]},
                       LonePartial{current / cold_s, cold_conductance_s_}, Partial<V>{conductance1, v1});
      // exact for voltage and conductance both linear over the step
      const double sixth = dt_s / 6.0;
      const double part0 = sixth * conductance0 * (2.0 * u0 + u1);
      const double part1 = sixth * conductance1 * (2.0 * u1 + u0);
      return {state[1], chain(part0 + part1, Partial<T>{-part0 * bend, start},
                              Partial<T>{-part1 * rho1.slope / rho1.value, state[0]},
                              LonePartial{(part0 + part1) / cold_s, cold_conductance_s_},
                              Partial<V>{sixth * (2.0 * conductance0 + conductance1), v0},
                              Partial<V>{sixth * (2.0 * conductance1 + conductance0), v1})};
    }

    Step<T> advance_with_inductance(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s) const {
      const auto ratio = tungsten_resistivity_ratio(state[0]);
      const T i0 = state[1];
      const T start_ohm = cold_resistance_ohm_ * ratio.value;
      const Response first = respond(i0, v0, v1, start_ohm, dt_s);
      warm(state[0], heated(i0, v0, v1, start_ohm, first, dt_s) * (1.0 / dt_s), ratio, dt_s);
      const T end_ohm = cold_resistance_ohm_ * tungsten_resistivity_ratio(state[0]).value;
      state[1] = respond(i0, v0, v1, end_ohm, dt_s).current_a;
      return {state[1], respond(i0, v0, v1, 0.5 * (start_ohm + end_ohm), dt_s).charge_c};
    }

    struct Response {
      T current_a, charge_c;
    };

    /// Resistance and inductance on a ramp of voltage, exact: current at the end, charge, heat in the resistance.
    Response respond(const T& i0, const T& v0, const T& v1, const T& resistance_ohm, double dt_s) const {
      const double r = value_of(resistance_ohm);
      const double l = value_of(inductance_h_);
      const double i = value_of(i0);
      const double per_l = dt_s / l;
      const auto p = phi_values(-per_l * r);
      const double start = (value_of(v0) - r * i) * per_l;
      const double ramp = (value_of(v1) - value_of(v0)) * per_l;
      const double end = i + p[0] * start + p[1] * ramp;
      const double charge = (i + p[1] * start + p[2] * ramp) * dt_s;
      // slopes by the exponent z = -R dt / L
      const double end_z = (p[0] - p[1]) * start + (p[1] - 2.0 * p[2]) * ramp;
      const double charge_z = ((p[1] - 2.0 * p[2]) * start + (p[2] - 3.0 * p[3]) * ramp) * dt_s;
      const T end_a = chain(end, Partial<T>{1.0 - p[0] * r * per_l, i0}, Partial<T>{(p[0] - p[1]) * per_l, v0},
                            Partial<T>{p[1] * per_l, v1}, Partial<T>{-per_l * (end_z + p[0] * i), resistance_ohm},
                            Partial<T>{(end_z * per_l * r - end + i) / l, inductance_h_});
      const T charge_c =
          chain(charge, Partial<T>{(1.0 - p[1] * r * per_l) * dt_s, i0}, Partial<T>{(p[1] - p[2]) * per_l * dt_s, v0},
                Partial<T>{p[2] * per_l * dt_s, v1}, Partial<T>{-per_l * (charge_z + p[1] * i * dt_s), resistance_ohm},
                Partial<T>{(charge_z * per_l * r - charge + i * dt_s) / l, inductance_h_});
      return {end_a, charge_c};
    }

    /// What the resistance turned into heat during such a step: taken from the terminals less stored in the inductance.
    T heated(const T& i0, const T& v0, const T& v1, const T& resistance_ohm, const Response& step, double dt_s) const {
      const auto p = phi(T(-dt_s * resistance_ohm / inductance_h_));
      const T start = (v0 - resistance_ohm * i0) * dt_s / inductance_h_;
      const T ramp = (v1 - v0) * dt_s / inductance_h_;
      const T taken = v1 * step.charge_c - (v1 - v0) * (0.5 * i0 + p.phi3 * start + p.phi4 * ramp) * dt_s;
      return taken - 0.5 * inductance_h_ * (step.current_a * step.current_a - i0 * i0);
    }

    Lone<T> cold_conductance_s_;
    T cold_resistance_ohm_;
    Lone<T> radiation_, inverse_heat_capacity_, exponent_, conduction_;
    T inductance_h_;
  };

  static std::vector<std::vector<double>> starts(const StartHints& hints);
  static std::vector<DerivedFigure> derived(std::span<const double> parameters, const OperatingPoint& at);
  /// By the heat balance.
  static double dc_current_a(std::span<const double> parameters, double voltage_v);
  static constexpr std::string_view light_law =
      "Planck's law at the filament's temperature, weighted with the eye's sensitivity (CIE V(lambda))";
  /// That of a black body: tungsten's emissivity in the visible hardly changes with temperature.
  static double light(std::span<const double> parameters, std::span<const double> state, double voltage_v,
                      double current_a);
  /// A filament that runs cooler than a dull glow or hotter than tungsten melts is something else.
  static bool plausible(std::span<const double> parameters, std::span<const double> state, const OperatingPoint& at);
};

}  // namespace lampload
