#pragma once
// A string of LEDs behind a bridge without a reservoir, in segments that regulators switch in one after the other as
// the rectified voltage rises:
//
//   o--+------+---+------+
//      |      |   |bridge|----+-- LEDs --+-- LEDs --+-- ...
//     === Cin Rb  | Vd   |    tap 1      tap 2
//      |      |   |      |    I1         I2
//   o--+------+---+------+----+----------+----------+
//
// Between tap k and tap k+1 the bridge carries tap current k, whatever the voltage. Each current comes in over 5 % of
// its tap's voltage, about that voltage: the knee of the LEDs. The current follows the voltage of the moment, so that a
// step is an integral in closed form.

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <string_view>
#include <vector>

#include "core/lamp/common_parameters.h"
#include "core/lamp/one_port.h"
#include "core/lamp/schematic.h"

namespace lampload {

namespace linear_driver {

inline constexpr std::size_t shared = 3;
inline constexpr std::size_t most_taps = 4;
/// LEDs go from little to full current within about this share of their voltage (current by e every 2 %, from memory).
inline constexpr double knee_share = 0.05;

inline constexpr std::array<std::string_view, most_taps> load_laws = {"one_tap", "two_taps", "three_taps", "four_taps"};
inline constexpr std::array<std::string_view, most_taps> voltage_names = {"tap_voltage_1_v", "tap_voltage_2_v",
                                                                          "tap_voltage_3_v", "tap_voltage_4_v"};
inline constexpr std::array<std::string_view, most_taps> current_names = {"tap_current_1_a", "tap_current_2_a",
                                                                          "tap_current_3_a", "tap_current_4_a"};

/// Start vectors for that many taps: the staircase nearest to the current over the voltage. Empty where the waveform
/// is no such staircase.
std::vector<std::vector<double>> starts(const StartHints& hints, std::size_t taps);

// Taps are in rising order: one that is given below the end of the knee before it counts as there. Otherwise a fit
// could find the same lamp with its taps in any order.

/// Power at an operating point and what follows from it. p: drop, input capacitance, bleed resistance, then voltage and
/// current of each tap.
std::vector<DerivedFigure> derived(std::span<const double> p, const OperatingPoint& at);

/// Power of the LEDs that are lit at a terminal voltage. p as for derived().
double light(std::span<const double> p, double voltage_v);

/// Taps in rising order and below the crest.
bool plausible(std::span<const double> p, const OperatingPoint& at);

}  // namespace linear_driver

template <std::size_t Taps>
struct LinearDriver {
  static_assert(Taps >= 1 && Taps <= linear_driver::most_taps);
  static constexpr std::string_view name = "linear_driver";
  static constexpr std::string_view load_law = linear_driver::load_laws[Taps - 1];
  static constexpr double rarity = 0.0;
  static constexpr Feed feed = Feed::mains;
  static constexpr auto parameters = [] {
    std::array<ParameterSpec, linear_driver::shared + 2 * Taps> table = {{
        common::rectifier_drop,
        [] {
          ParameterSpec spec = common::input_capacitance;
          spec.model_sd = 0.03;
          return spec;
        }(),
        {.name = "bleed_resistance_ohm",
         .unit = "Ohm",
         .meaning = "resistance across the terminals",
         .lower = 1e3,
         .upper = 1e8,
         .scale = 1e6,     // common practice, no source
         .prior_sd = 1.5,  // of ln(value)
         .model_sd = 0.2,
         .identified_by = "steady"},
    }};
    for (std::size_t k = 0; k < Taps; ++k) {
      table[linear_driver::shared + 2 * k] = {.name = linear_driver::voltage_names[k],
                                              .unit = "V",
                                              .meaning = "rectified voltage at which this segment takes over",
                                              .lower = 10.0,
                                              .upper = 600.0,
                                              .model_sd = k == 0 ? 0.01 : 0.0,  // the first has a stray knee
                                              .identified_by = "steady"};
      table[linear_driver::shared + 2 * k + 1] = {.name = linear_driver::current_names[k],
                                                  .unit = "A",
                                                  .meaning = "current of the bridge above that voltage",
                                                  .lower = 1e-4,
                                                  .upper = 20.0,
                                                  .identified_by = "steady"};
    }
    return table;
  }();
  static constexpr auto schematic = [] {
    std::array<SchematicPart, linear_driver::shared + 2 * Taps> parts = {{
        {Symbol::capacitor, Placement::across, {"input_capacitance_f"}},
        {Symbol::resistor, Placement::across, {"bleed_resistance_ohm"}},
        {Symbol::bridge, Placement::in_series, {"rectifier_drop_v"}},
    }};
    for (std::size_t k = 0; k < Taps; ++k) {
      parts[linear_driver::shared + 2 * k] = {
          Symbol::led_string, Placement::in_series, {linear_driver::voltage_names[k]}};
      parts[linear_driver::shared + 2 * k + 1] = {
          Symbol::current_source, Placement::across, {linear_driver::current_names[k]}};
    }
    return parts;
  }();
  static constexpr std::array<StateSpec, 0> states = {};

  template <class T>
  class Model {
   public:
    explicit Model(std::span<const T> p) : drop_(p[0]), capacitance_(p[1]), bleed_s_(1.0 / p[2]) {
      T before(0.0);
      T lowest(0.0);
      for (std::size_t k = 0; k < Taps; ++k) {
        T tap_v = p[linear_driver::shared + 2 * k];
        if (value_of(tap_v) < value_of(lowest)) tap_v = lowest;
        lowest = tap_v * (1.0 + linear_driver::knee_share);
        const T& tap_a = p[linear_driver::shared + 2 * k + 1];
        steps_[k] = {tap_v * (1.0 - 0.5 * linear_driver::knee_share) + drop_, tap_v * linear_driver::knee_share,
                     tap_a - before};
        before = tap_a;
      }
    }

    Step<T> advance(std::array<T, 0>& /*state*/, const T& v0, const T& v1, double dt_s) const {
      const T rise = v1 - v0;
      const T end_a = current(v1);
      // over a voltage that hardly moves the integral's difference would lose its digits
      const T mean_a = std::abs(value_of(rise)) > least_rise_v ? T((integral(v1) - integral(v0)) / rise)
                                                               : T(0.5 * (current(v0) + end_a));
      const T displaced = capacitance_ * rise;
      return {end_a + displaced * (1.0 / dt_s), mean_a * dt_s + displaced};
    }

   private:
    static constexpr double least_rise_v = 1e-2;

    struct Riser {
      T foot_v, width_v, rise_a;
    };

    T current(const T& v) const {
      const double sign = value_of(v) < 0.0 ? -1.0 : 1.0;
      const T height = sign * v;
      T sum = height * bleed_s_;
      for (const Riser& step : steps_) {
        const double above = value_of(height) - value_of(step.foot_v);
        if (above <= 0.0) continue;
        sum += above < value_of(step.width_v) ? T(step.rise_a * (height - step.foot_v) / step.width_v) : step.rise_a;
      }
      return sign * sum;
    }

    /// Of the current over the voltage, from 0: even.
    T integral(const T& v) const {
      const T height = value_of(v) < 0.0 ? T(-v) : v;
      T sum = 0.5 * height * height * bleed_s_;
      for (const Riser& step : steps_) {
        const T above = height - step.foot_v;
        if (value_of(above) <= 0.0) continue;
        sum += value_of(above) < value_of(step.width_v) ? T(step.rise_a * above * above * 0.5 / step.width_v)
                                                        : T(step.rise_a * (above - 0.5 * step.width_v));
      }
      return sum;
    }

    T drop_, capacitance_, bleed_s_;
    std::array<Riser, Taps> steps_;
  };

  static std::vector<std::vector<double>> starts(const StartHints& hints) { return linear_driver::starts(hints, Taps); }
  static std::vector<DerivedFigure> derived(std::span<const double> p, const OperatingPoint& at) {
    return linear_driver::derived(p, at);
  }
  static constexpr std::string_view light_law = "in proportion to current times voltage of the LEDs that are lit";
  static double light(std::span<const double> p, std::span<const double> /*state*/, double voltage_v,
                      double /*current_a*/) {
    return linear_driver::light(p, voltage_v);
  }
  static bool plausible(std::span<const double> p, std::span<const double> /*state*/, const OperatingPoint& at) {
    return linear_driver::plausible(p, at);
  }
};

}  // namespace lampload
