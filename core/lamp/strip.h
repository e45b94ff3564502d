#pragma once
// Constant-voltage LED strip on DC, switched by a pulse-width dimmer, with the cable that leads to it.
//
//   +o--(L)--[ R ]--LEDs--o-
//
// The chains' curve is that of load_law.h (LedStringLoad), as a polygon of chords, so that every step is exact: between
// two knots cable and string are a linear circuit on a ramp, and the instants where the current passes a knot, begins
// and ends are located. The polygon lies within 0.6 % of the working current of the curve. Nothing flows
// backwards.

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <vector>

#include "core/lamp/crossing.h"
#include "core/lamp/load_law.h"
#include "core/lamp/one_port.h"
#include "core/lamp/relaxation.h"
#include "core/lamp/schematic.h"

namespace lampload {

struct Strip {
  static constexpr std::string_view name = "strip";
  static constexpr std::string_view load_law = "";
  static constexpr double rarity = 0.0;
  static constexpr Feed feed = Feed::dc_voltage;
  static constexpr std::array<ParameterSpec, 3> parameters = {{
      {.name = "string_voltage_v",
       .unit = "V",
       .meaning = "where the strings' working line meets no current",
       .lower = 1.0,
       .upper = 450.0,
       .identified_by = "turn_on"},
      {.name = "string_resistance_ohm",
       .unit = "Ohm",
       .meaning = "slope of all strings together, with their resistors",
       .lower = 0.01,
       .upper = 1e5,
       .identified_by = "turn_on"},
      {.name = "cable_inductance_h",
       .unit = "H",
       .meaning = "inductance of the cable to the strip",
       .lower = 1e-8,
       .upper = 1e-2,
       .optional = true,
       .identified_by = "pulse_width"},
  }};
  static constexpr std::array<SchematicPart, 3> schematic = {{
      {Symbol::inductor, Placement::in_series, {"cable_inductance_h"}},
      {Symbol::resistor, Placement::across, {"string_resistance_ohm"}},
      {Symbol::led_string, Placement::with_previous, {"string_voltage_v"}},
  }};
  static constexpr std::array<StateSpec, 1> states = {
      {{.name = "current_a", .unit = "A", .lower = 0.0, .upper = 1e5, .rest = 0.0, .typical = 5.0}}};

  /// Knots of the polygon as shares of the working current. The first stands for "next to nothing" and carries none.
  static constexpr std::array<double, 15> knots = {0.006, 0.02, 0.05, 0.11, 0.21, 0.36, 0.6, 1.0,
                                                   1.6,   2.6,  4.2,  7.0,  12.0, 25.0, 60.0};

  template <class T>
  class Model {
   public:
    explicit Model(std::span<const T> p)
        : inductive_(value_of(p[2]) > 0.0), per_henry_(inductive_ ? 1.0 / p[2] : p[2]) {
      constexpr double knee = LedStringLoad::knee_share;
      constexpr double working = LedStringLoad::working_share;
      const T working_a = p[0] * (working * knee) / p[1];
      for (std::size_t k = 0; k < knots.size(); ++k) {
        volt_[k] = p[0] * (1.0 + knee * ((working - 1.0) * knots[k] + std::log(knots[k]) + 1.0));
        current_[k] = k == 0 ? T(0.0) : T(working_a * knots[k]);
      }
      for (std::size_t k = 0; k < segments; ++k) {
        ohm_[k] = (volt_[k + 1] - volt_[k]) / (current_[k + 1] - current_[k]);
        open_[k] = k == 0 ? volt_[0] : T(volt_[k] - ohm_[k] * current_[k]);
      }
    }

    Step<T> advance(std::array<T, 1>& state, const T& v0, const T& v1, double dt_s) const {
      if (inductive_) return through_cable(state[0], v0, v1, dt_s);
      const T before = steady_a(v0);
      state[0] = steady_a(v1);
      return {state[0], mean_a(v0, v1, before, state[0]) * dt_s};
    }

    /// Where the voltage stands still.
    T steady_a(const T& v) const {
      const std::size_t k = segment_at(v);
      return k == blocked ? T(0.0) : T((v - open_[k]) / ohm_[k]);
    }

   private:
    static constexpr std::size_t segments = knots.size() - 1;  // the last one has no end
    static constexpr std::size_t blocked = segments;
    static constexpr std::size_t most_stretches = 2 * knots.size() + 10;

    [[nodiscard]] std::size_t segment_at(const T& v) const {
      if (!(value_of(v) > value_of(volt_[0]))) return blocked;
      std::size_t k = 0;
      while (k + 1 < segments && value_of(v) > value_of(volt_[k + 1])) ++k;
      return k;
    }
    [[nodiscard]] std::size_t segment_of(const T& current) const {
      if (!(value_of(current) > 0.0)) return blocked;
      std::size_t k = 0;
      while (k + 1 < segments && value_of(current) > value_of(current_[k + 1])) ++k;
      return k;
    }

    /// Mean over a straight change of the voltage, without a cable.
    T mean_a(const T& v0, const T& v1, const T& i0, const T& i1) const {
      if (segment_at(v0) == segment_at(v1)) return 0.5 * (i0 + i1);
      const bool rises = value_of(v1) > value_of(v0);
      const T& low = rises ? v0 : v1;
      const T& high = rises ? v1 : v0;
      const T per_volt = 1.0 / (high - low);
      T mean(0.0);
      for (std::size_t k = 0; k < segments; ++k) {
        const bool last = k + 1 == segments;
        if (value_of(high) <= value_of(volt_[k])) break;
        if (!last && value_of(low) >= value_of(volt_[k + 1])) continue;
        const bool begins = value_of(low) > value_of(volt_[k]);
        const bool ends = last || value_of(high) <= value_of(volt_[k + 1]);
        const T& from = begins ? low : volt_[k];
        const T& to = ends ? high : volt_[k + 1];
        const T& from_a = begins ? (rises ? i0 : i1) : current_[k];
        const T& to_a = ends ? (rises ? i1 : i0) : current_[k + 1];
        mean += 0.5 * (from_a + to_a) * ((to - from) * per_volt);
      }
      return mean;
    }

    Step<T> through_cable(T& current, const T& v0, const T& v1, double dt_s) const {
      const T ramp = (v1 - v0) * (1.0 / dt_s);
      T v = v0;
      T left(dt_s);
      T charge(0.0);
      std::size_t k = segment_of(current);
      bool armed = true;
      for (std::size_t n = 0; n < most_stretches && value_of(left) > 0.0; ++n) {
        if (k == blocked) {
          current = T(0.0);
          const double above = value_of(v) - value_of(volt_[0]);
          if (!(above > 0.0)) {
            if (!(value_of(ramp) > 0.0) || -above >= value_of(ramp) * value_of(left)) break;
            left -= (volt_[0] - v) / ramp;
            v = volt_[0];
          }
          k = 0;
          armed = false;
          continue;
        }
        const Stretch stretch{current, (v - open_[k] - ohm_[k] * current) * per_henry_, ramp * per_henry_,
                              ohm_[k] * per_henry_};
        T spent = left;
        std::size_t next = k;
        if (n + 1 < most_stretches) {
          const bool last = k + 1 == segments;
          const auto numbers = stretch.numbers();
          double horizon = value_of(left);
          const auto above = [&](double t) {
            const Slope at = numbers.at(t);
            return Slope{at.value - value_of(current_[k + 1]), at.slope};
          };
          const auto below = [&](double t) {
            const Slope at = numbers.at(t);
            return Slope{value_of(current_[k]) - at.value, -at.slope};
          };
          if (const auto t = last ? std::nullopt : rising_crossing(above, horizon, armed); t && *t < horizon) {
            spent = with_derivatives(*t, T(stretch.at(T(*t)) - current_[k + 1]), above(*t).slope, horizon);
            horizon = *t;
            next = k + 1;
          }
          if (const auto t = rising_crossing(below, horizon, armed); t && *t < horizon) {
            spent = with_derivatives(*t, T(current_[k] - stretch.at(T(*t))), below(*t).slope, horizon);
            next = k == 0 ? blocked : k - 1;
          }
        }
        charge += stretch.charge(spent);
        v += ramp * spent;
        left -= spent;
        armed = false;
        if (next == k) {
          current = stretch.at(spent);
          break;
        }
        current = current_[next == blocked ? 0 : std::max(k, next)];
        k = next;
      }
      return {current, charge};
    }

    /// Between two knots: current' = start + ramp t - rate (current - its value at the start).
    struct Stretch {
      T current, start, ramp, rate;

      T at(const T& t) const {
        const auto p = phi(T(-rate * t));
        return current + t * (p.phi1 * start + t * p.phi2 * ramp);
      }
      T charge(const T& t) const {
        const auto p = phi(T(-rate * t));
        return t * (current + t * (p.phi2 * start + t * p.phi3 * ramp));
      }
      struct Numbers {
        double current, start, ramp, rate;
        [[nodiscard]] Slope at(double t) const {
          const auto p = phi_values(-rate * t);
          const double rise = t * (p[0] * start + t * p[1] * ramp);
          return {current + rise, start + ramp * t - rate * rise};
        }
      };
      [[nodiscard]] Numbers numbers() const {
        return {value_of(current), value_of(start), value_of(ramp), value_of(rate)};
      }
    };

    bool inductive_;
    T per_henry_;
    std::array<T, knots.size()> volt_, current_;
    std::array<T, segments> ohm_, open_;
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
  /// A string far below the supply is a mere resistance, one right below it has no resistors.
  static bool plausible(std::span<const double> parameters, std::span<const double> state, const OperatingPoint& at);
};

}  // namespace lampload
