#pragma once
// A converter with active power-factor correction: behind an input filter it looks like a conductance, which its slow
// loop sets so that the power is what the load takes.
//
//   o--[ Rs ]--+--------------+
//              |              |  s G (|u| - threshold), where |u| is above it
//             === Cin (u)  converter
//              |              |
//   o----------+--------------+
//
// G is conductance_s as long as the lamp takes less than power_w with it, else power_w over the slow mean m of
// |u| (|u| - threshold): after a cut G rises until the converter can no more, and then the power falls.

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <vector>

#include "core/lamp/crossing.h"
#include "core/lamp/one_port.h"
#include "core/lamp/reservoir.h"
#include "core/lamp/schematic.h"

namespace lampload {

struct CorrectedDriver {
  static constexpr std::string_view name = "corrected_driver";
  static constexpr std::string_view load_law = "";
  static constexpr double rarity = 5.0;  // one that looks like a hot filament must not win by chance
  static constexpr Feed feed = Feed::mains;
  static constexpr std::string_view plain_until = "leading_edge";  // with a small input filter

  static constexpr std::array<ParameterSpec, 6> parameters = {{
      {.name = "conductance_s",
       .unit = "S",
       .meaning = "largest input conductance",
       .lower = 1e-6,
       .upper = 1.0,
       .model_sd = 0.35,
       .identified_by = "leading_edge"},
      {.name = "input_capacitance_f",
       .unit = "F",
       .meaning = "capacitance of the input filter",
       .lower = 1e-10,
       .upper = 5e-6,
       .scale = 1e-7,    // common practice, no source
       .prior_sd = 2.0,  // of ln(value)
       .model_sd = 0.023,
       .identified_by = "steady"},
      {.name = "threshold_v",
       .unit = "V",
       .meaning = "voltage below which the converter draws nothing",
       .lower = 0.0,
       .upper = 250.0,
       .logarithmic = false,
       .scale = 10.0,
       .identified_by = "steady"},
      {.name = "series_resistance_ohm",
       .unit = "Ohm",
       .meaning = "resistance ahead of the input filter",
       .lower = 0.05,
       .upper = 2000.0,
       .scale = 10.0,    // a fusible resistor, a thermistor, a choke's winding: common practice, no source
       .prior_sd = 1.2,  // of ln(value)
       .model_sd = 1.2,
       .identified_by = "leading_edge"},
      {.name = "power_w",
       .unit = "W",
       .meaning = "power that the loop holds",
       .lower = 0.05,
       .upper = 2000.0,
       .model_sd = 0.007,
       .identified_by = "steady"},
      {.name = "loop_time_s",
       .unit = "s",
       .meaning = "time constant of the loop",
       .lower = 2e-3,
       .upper = 2.0,
       // It must leave twice the mains frequency alone: crossover at 5 to 20 Hz. Common practice, no source.
       .scale = 0.03,
       .prior_sd = 0.7,  // of ln(value)
       .identified_by = "leading_edge"},
  }};
  static constexpr std::array<SchematicPart, 3> schematic = {{
      {Symbol::resistor, Placement::in_series, {"series_resistance_ohm"}},
      {Symbol::capacitor, Placement::across, {"input_capacitance_f"}},
      {Symbol::converter, Placement::across, {"power_w", "conductance_s", "threshold_v", "loop_time_s"}},
  }};
  static constexpr std::array<StateSpec, 2> states = {{
      {.name = "filter_voltage_v", .unit = "V", .lower = -1500.0, .upper = 1500.0, .rest = 0.0},
      {.name = "mean_square_v2", .unit = "V^2", .lower = 0.0, .upper = 1e6, .rest = 0.0},
  }};

  template <class T>
  class Model {
   public:
    explicit Model(std::span<const T> p)
        : largest_s_(p[0]),
          per_farad_(1.0 / p[1]),
          threshold_(p[2]),
          series_s_(1.0 / p[3]),
          series_rate_(series_s_ * per_farad_),
          power_(p[4]),
          loop_rate_(1.0 / p[5]) {}

    Step<T> advance(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s) const {
      const T ramp = (v1 - v0) * (1.0 / dt_s);
      const T conductance = held(state[1]) ? T(power_ / state[1]) : largest_s_;
      const T draws = conductance * per_farad_;
      T u = state[0];
      T height = v0;
      T left(dt_s);
      T filter_vs(0.0);   // integral of u
      T square_v2s(0.0);  // integral of |u| (|u| - threshold) where the converter draws
      double side = std::abs(value_of(u)) > value_of(threshold_) ? (value_of(u) < 0.0 ? -1.0 : 1.0) : 0.0;
      bool armed = true;
      for (int i = 0; i < most_stretches && value_of(left) > 0.0; ++i) {
        const Relaxation<T> stretch{u,
                                    side == 0.0 ? T(series_rate_ * (height - u))
                                                : T(series_rate_ * (height - u) - draws * (u - side * threshold_)),
                                    side == 0.0 ? series_rate_ : T(series_rate_ + draws), T(series_rate_ * ramp)};
        const auto [spent, next_side] = cut(stretch, left, side, armed);
        const auto [end, integral] = stretch.at_and_integral(spent);
        if (side != 0.0) {
          const T middle = stretch.at(0.5 * spent).reservoir_v;
          square_v2s += spent * (1.0 / 6.0) *
                        (u * (u - side * threshold_) + 4.0 * middle * (middle - side * threshold_) +
                         end * (end - side * threshold_));
        }
        filter_vs += integral;
        u = end;
        height += ramp * spent;
        left -= spent;
        side = next_side;
        armed = false;
        if (value_of(left) < 1e-12 * dt_s) break;
      }
      state[0] = u;
      using std::exp;
      const T keeps = exp(-dt_s * loop_rate_);
      state[1] = state[1] * keeps + square_v2s * ((1.0 - keeps) * (1.0 / dt_s));
      return {series_s_ * (v1 - u), series_s_ * (0.5 * (v0 + v1) * dt_s - filter_vs)};
    }

   private:
    // Enough for one passage through zero, twice.
    static constexpr int most_stretches = 8;

    /// Does the loop hold the power, or is the converter at its limit?
    bool held(const T& mean_square) const { return value_of(largest_s_) * value_of(mean_square) > value_of(power_); }

    struct Cut {
      T time;
      double side;  ///< that follows: +1 or -1 where the converter draws, 0 below the threshold
    };

    Cut cut(const Relaxation<T>& stretch, const T& left, double side, bool armed) const {
      const auto numbers = stretch.numbers();
      double horizon = value_of(left);
      Cut out{left, side};
      const double threshold = value_of(threshold_);
      for (const double way : {1.0, -1.0}) {
        if (side != 0.0 && side == way) continue;
        // rising above the threshold on either side, or falling back to it
        const double outward = side == 0.0 ? way : -side;
        const Monitor monitor{side == 0.0 ? -threshold : threshold, 0.0, outward, 0.0};
        const auto f = [&](double t) { return observe(monitor, numbers, t); };
        const auto t = rising_crossing(f, horizon, armed);
        if (!t || !(*t < horizon)) continue;
        const T beyond = outward * stretch.at(T(*t)).reservoir_v + (side == 0.0 ? T(-threshold_) : threshold_);
        out = {with_derivatives(*t, beyond, f(*t).slope, horizon), side == 0.0 ? way : 0.0};
        horizon = *t;
      }
      return out;
    }

    T largest_s_, per_farad_, threshold_, series_s_, series_rate_, power_, loop_rate_;
  };

  static bool shows_itself(const StartHints& hints);
  static std::vector<std::vector<double>> starts(const StartHints& hints);
  static std::vector<DerivedFigure> derived(std::span<const double> parameters, const OperatingPoint& at);
  static constexpr std::string_view light_law = "in proportion to the power of the converter";
  static double light(std::span<const double> parameters, std::span<const double> state, double voltage_v,
                      double current_a);
  /// Without a visible filter or threshold it is a resistance; with little power for its filter, a capacitor.
  static bool plausible(std::span<const double> parameters, std::span<const double> state, const OperatingPoint& at);
};

}  // namespace lampload
