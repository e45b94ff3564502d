// What captures leave open between families: lamps that look like another kind.

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include "core/lamp/families.h"
#include "core/standard_normal.h"
#include "core/waveform/figures.h"
#include "fit/fit.h"

namespace lampload::fit_rivals_test {
namespace {

constexpr double dt_s = 20e-6;
constexpr double crest_v = 325.0;

/// A resistance of 800 ohm, by Ohm's law: running for six cycles, or switched on at the crest after a quarter cycle.
Capture resistance(bool turn_on) {
  std::mt19937_64 random(7);
  Capture capture;
  capture.file = turn_on ? "turn-on" : "steady";
  capture.sample_interval_s = dt_s;
  capture.voltage_step_v = 4.0;
  capture.current_step_a = 4e-3;
  const auto steps = [&](double value, double step) {
    return step * std::round(value / step + 0.4 * standard_normal(random));
  };
  for (std::size_t k = 0; k < 6000; ++k) {
    const double time_s = static_cast<double>(k) * dt_s;
    const bool on = !turn_on || time_s > 5e-3;
    const double v = on ? crest_v * std::sin(100.0 * std::numbers::pi * time_s) : 0.0;
    capture.voltage_v.push_back(steps(v, capture.voltage_step_v));
    capture.current_a.push_back(steps(v / 800.0, capture.current_step_a));
  }
  return capture;
}

FitResult fit_of(const std::vector<Capture>& captures) {
  std::vector<Figures> figures;
  for (const Capture& one : captures) figures.push_back(measure(one));
  return fit_lamp(captures, figures);
}

TEST(Rivals, AResistanceThatWasSwitchedOnIsNoFilament) {
  const FitResult fit = fit_of({resistance(false), resistance(true)});
  EXPECT_EQ(fit.family, "resistor");
  for (const Rival& one : fit.rivals) {
    if (one.family == "filament") {
      EXPECT_GT(one.distance, 10.0);
    }
  }
}

/// The reservoir holds the voltage of the moment at which the record begins, and nothing a little later.
TEST(Rivals, AReservoirThatHoldsNothingIsNoReservoirLamp) {
  const FamilyInfo& family = find_family("rectifier_capacitor", "constant_power");
  OperatingPoint at;
  at.voltage_v = 230.0;
  at.frequency_hz = 50.0;
  const std::size_t parameters = family.parameters.size();
  const auto table = [&](std::vector<double> first) {
    for (std::size_t j = first.size(); j < parameters; ++j) first.push_back(family.parameters[j].absent);
    return first;
  };
  std::vector<double> state(family.states.size(), 0.0);
  state[0] = 200.0;
  EXPECT_FALSE(family.plausible(table({208.0, 0.0, 0.0, 0.3, 6e-8, 0.0, 1830.0}), state, at));
  EXPECT_TRUE(family.plausible(table({30.0, 0.0, 0.0, 1.6, 6.8e-6, 0.0, 8.0}), state, at));
}

}  // namespace
}  // namespace lampload::fit_rivals_test
