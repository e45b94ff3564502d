#pragma once
// Bare LEDs on a constant-current driver: the whole chain as one diode with its resistance (Shockley's equation).
//
//   v = R i + (n kT/q) ln(1 + i / Is),   n kT/q of the whole chain; nothing flows backwards
//
// No state: what flows during a step is a closed form of the currents at its ends.

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <vector>

#include "core/lamp/chain.h"
#include "core/lamp/dual.h"
#include "core/lamp/one_port.h"
#include "core/lamp/schematic.h"

namespace lampload {

struct Emitter {
  static constexpr std::string_view name = "emitter";
  static constexpr std::string_view load_law = "";
  static constexpr double rarity = 0.0;
  static constexpr Feed feed = Feed::dc_current;
  static constexpr std::array<ParameterSpec, 3> parameters = {{
      {.name = "saturation_current_a",
       .unit = "A",
       .meaning = "where the exponential meets no voltage",
       .lower = 1e-60,
       .upper = 1e-4,
       .identified_by = "turn_on"},
      {.name = "emission_voltage_v",
       .unit = "V",
       .meaning = "n kT/q of the whole chain: the current grows by e every such step",
       .lower = 0.01,
       .upper = 50.0,
       .identified_by = "turn_on"},
      {.name = "series_resistance_ohm",
       .unit = "Ohm",
       .meaning = "resistance of the chain",
       .lower = 1e-3,
       .upper = 1e4,
       .identified_by = "turn_on"},
  }};
  static constexpr std::array<SchematicPart, 2> schematic = {{
      {Symbol::resistor, Placement::across, {"series_resistance_ohm"}},
      {Symbol::diode, Placement::with_previous, {"emission_voltage_v", "saturation_current_a"}},
  }};
  static constexpr std::array<StateSpec, 0> states = {};

  template <class T>
  class Model {
   public:
    explicit Model(std::span<const T> p) : saturation_a_(p[0]), emission_v_(p[1]), resistance_ohm_(p[2]) {}

    Step<T> advance(std::array<T, 0>& /*state*/, const T& v0, const T& v1, double dt_s) const {
      const T i0 = current_a(v0);
      const T i1 = current_a(v1);
      if (value_of(v0) <= 0.0 && value_of(v1) <= 0.0) return {i1, T(0.0)};
      if (value_of(v0) <= 0.0) return {i1, mean_a(T(0.0), v1, i0, i1) * (v1 / (v1 - v0)) * dt_s};
      if (value_of(v1) <= 0.0) return {i1, mean_a(v0, T(0.0), i0, i1) * (v0 / (v0 - v1)) * dt_s};
      return {i1, mean_a(v0, v1, i0, i1) * dt_s};
    }

    T current_a(const T& v) const {
      const double volt = value_of(v);
      if (!(volt > 0.0)) return T(0.0);
      const double saturation = value_of(saturation_a_);
      const double emission = value_of(emission_v_);
      const double resistance = value_of(resistance_ohm_);
      // With y = R (i + Is) / (n kT/q): y + ln y = (v + R Is) / (n kT/q) + ln(R Is / (n kT/q)).
      const double step = resistance * saturation / emission;
      const double whole = omega(volt / emission + step + std::log(step)) * emission / resistance;  // i + Is
      const double current = std::max(0.0, whole - saturation);
      const double per_ohm = 1.0 / (resistance + emission / whole);
      return chain(current, Partial<T>{per_ohm, v}, Partial<T>{-current * per_ohm, resistance_ohm_},
                   Partial<T>{-std::log(whole / saturation) * per_ohm, emission_v_},
                   Partial<T>{emission * current / (saturation * whole) * per_ohm, saturation_a_});
    }

   private:
    /// The y > 0 with y + ln y = z, to rounding (Wright's omega function).
    static double omega(double z) {
      double y = z > 1.0 ? z - std::log(z) : std::exp(std::min(z, 0.0)) / (1.0 + std::exp(std::min(z, 0.0)));
      for (int i = 0; i < 20; ++i) {
        const double next = y * (1.0 + z - std::log(y)) / (1.0 + y);
        const bool done = std::abs(next - y) < 1e-9 * y;  // the next step would be rounding
        y = next;
        if (done) break;
      }
      return y;
    }

    /// Mean over a straight change of the voltage above zero: the integral of i dv over the change.
    T mean_a(const T& v0, const T& v1, const T& i0, const T& i1) const {
      using std::log;
      constexpr double small_change = 1e-4;  // of the current; the trapezoid then errs by less than a billionth
      const double larger = std::max(value_of(i0), value_of(i1)) + value_of(saturation_a_);
      const T change = i1 - i0;
      if (std::abs(value_of(change)) < small_change * larger) return 0.5 * (i0 + i1);
      const T growth = log((i1 + saturation_a_) / (i0 + saturation_a_));
      return (emission_v_ * (change - saturation_a_ * growth) + resistance_ohm_ * change * (0.5 * (i0 + i1))) /
             (v1 - v0);
    }

    T saturation_a_, emission_v_, resistance_ohm_;
  };

  static std::vector<std::vector<double>> starts(const StartHints& hints);
  static std::vector<UsualValue> usual(const StartHints& hints);
  static std::vector<DerivedFigure> derived(std::span<const double> parameters, const OperatingPoint& at);
  static constexpr std::string_view light_law = "in proportion to the current of the LEDs";
  static double light(std::span<const double> /*parameters*/, std::span<const double> /*state*/, double /*voltage_v*/,
                      double current_a) {
    return std::max(0.0, current_a);
  }
  static double dc_current_a(std::span<const double> parameters, double voltage_v);
  /// Much resistance is a strip's, an exponential far from that of junctions is no LED's.
  static bool plausible(std::span<const double> parameters, std::span<const double> state, const OperatingPoint& at);
};

}  // namespace lampload
