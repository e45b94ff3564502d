// What the fit must not take for a lamp, and what it refuses.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "core/error.h"
#include "core/lamp/lamp.h"
#include "fit/fit.h"
#include "tests/fit/estimate_checks.h"

namespace lampload::fit_refusals_test {
namespace {

constexpr double omega = 2.0 * std::numbers::pi * 50.0;

Capture synthetic(double (*current)(double time)) {
  Capture capture;
  capture.file = "synthetic";
  capture.sample_interval_s = 20e-6;
  for (int k = 0; k < 5000; ++k) {
    const double time = k * capture.sample_interval_s;
    capture.voltage_v.push_back(325.0 * std::sin(omega * time));
    capture.current_a.push_back(current(time));
  }
  return capture;
}

FitResult fit_of(const Capture& capture) {
  const std::vector<Figures> figures = {measure(capture)};
  return fit_lamp(std::span(&capture, 1), figures, test::without_advice());
}

TEST(Refusals, ACapacitorIsNoLamp) {
  const FitResult fit = fit_of(synthetic([](double t) { return 0.5 * std::cos(omega * t); }));
  EXPECT_FALSE(fit.accepted) << fit.family;
  EXPECT_NE(fit.verdict.find("no family describes this lamp"), std::string::npos) << fit.verdict;
}

// Before there was a family for windings this current had to be refused; now it is one of them, closed form.
TEST(Refusals, AMotorIsAWinding) {
  // 325 V over 0.5 A, 60 degrees behind: 325 Ohm and 562.9 Ohm of reactance
  const FitResult fit = fit_of(synthetic([](double t) { return 0.5 * std::sin(omega * t - std::numbers::pi / 3.0); }));
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "inductive");
  ASSERT_EQ(fit.load_law, "");
  EXPECT_NEAR(fit.parameters[0].value, 325.0, 3.0);
  EXPECT_NEAR(fit.parameters[1].value, 562.9 / omega, 0.01);
}

TEST(Refusals, ACurrentInOneDirectionOnlyIsNoneOfTheseFamilies) {
  const FitResult fit = fit_of(synthetic([](double t) { return std::max(0.0, 0.5 * std::sin(omega * t)); }));
  EXPECT_FALSE(fit.accepted) << fit.family;
}

TEST(Refusals, ADischargeBehindItsBallastIsNoneOfTheseFamilies) {
  // an arc takes nearly the same voltage at any current and strikes anew in every half cycle: steps and a lag
  const FitResult fit = fit_of(synthetic([](double t) {
    const double lagging = std::sin(omega * t - std::numbers::pi / 4.0);
    const double strikes = std::sin(omega * t - 0.4 * std::numbers::pi);
    return 0.3 * lagging + std::copysign(0.15, strikes) * (lagging * strikes > 0.0 ? 1.0 : 0.0);
  }));
  EXPECT_FALSE(fit.accepted) << fit.family;
}

TEST(Refusals, ACurrentThatStaysConstantInEachHalfCycleIsNoneOfTheseFamilies) {
  const FitResult fit = fit_of(synthetic([](double t) { return std::copysign(0.2, std::sin(omega * t)); }));
  EXPECT_FALSE(fit.accepted) << fit.family;
}

/// Lamps side by side at a sine, seen in steps of 4 mA after they have run for half a second.
Capture together(const std::vector<Lamp>& lamps) {
  Capture capture = synthetic([](double) { return 0.0; });
  capture.current_step_a = 0.004;
  for (const Lamp& lamp : lamps) {
    const auto device = lamp.device();
    double before = 0.0;
    for (int k = 1 - 25000; k < 5000; ++k) {
      const double v = 325.0 * std::sin(omega * k * capture.sample_interval_s);
      const double current = device->advance(before, v, capture.sample_interval_s).current_a;
      if (k >= 0) capture.current_a[static_cast<std::size_t>(k)] += current;
      before = v;
    }
  }
  for (double& i : capture.current_a) i = capture.current_step_a * std::round(i / capture.current_step_a);
  return capture;
}

/// 60 W: 882 Ohm hot, a fourteenth of it cold.
Lamp filament_60w() { return {find_family("filament", ""), {61.0, 1.0e-12, 2.0e-3, 0.5, 0.0, 0.0}}; }
Lamp rectifier(double watt) {
  return {find_family("rectifier_capacitor", "constant_power"),
          {250.0 / watt, 0.0, 0.0, 1.6, watt * 0.7e-6, 0.0, watt}};
}
Lamp two_taps(double watt) {
  return {find_family("linear_driver", "two_taps"), {1.6, 0.0, 1e6, 140.0, watt / 400.0, 260.0, watt / 250.0}};
}

TEST(Refusals, TheRectifierBelowIsALampByItself) {
  const FitResult alone = fit_of(together({rectifier(30.0)}));
  EXPECT_TRUE(alone.accepted) << alone.verdict;
  EXPECT_EQ(alone.family, "rectifier_capacitor");
  EXPECT_LT(std::abs(alone.captures[0].quiet_power_share), 0.01);
}

TEST(Refusals, ADriverWithoutReservoirBesideARectifierIsNoCleanRectifier) {
  const FitResult fit = fit_of(together({rectifier(30.0), two_taps(4.0)}));
  EXPECT_FALSE(fit.accepted) << fit.verdict;
  EXPECT_NE(fit.verdict.find("as if another load were beside it"), std::string::npos) << fit.verdict;
}

TEST(Refusals, ASmallRectifierBesideAFilamentIsNoCleanFilament) {
  const FitResult fit = fit_of(together({filament_60w(), rectifier(4.0)}));
  EXPECT_FALSE(fit.accepted) << fit.verdict;
  EXPECT_NE(fit.verdict.find("of a current without sharp pulses"), std::string::npos) << fit.verdict;
}

TEST(Refusals, APlainResistanceIsOne) {
  const Capture capture = synthetic([](double t) { return 325.0 * std::sin(omega * t) / 500.0; });
  const FitResult fit = fit_of(capture);
  EXPECT_TRUE(fit.accepted);
  // From a steady capture alone a filament with much heat capacity looks the same; either way the resistance is right.
  double resistance = 0.0;
  for (const Estimate& one : fit.parameters) resistance = one.name == "resistance_ohm" ? one.value : resistance;
  for (const Estimate& one : fit.derived) resistance = one.name == "hot_resistance_ohm" ? one.value : resistance;
  EXPECT_NEAR(resistance, 500.0, 2.0);
}

// What one leading edge at 20 kS/s left of a simulated resistor of 39 W: 12 nF lead by a third of a degree, as a clamp
// does that is 16 us early, and the threshold is a sixtieth of the crest.
TEST(Refusals, AResistanceWithAThresholdOfAFewVoltsIsNoCorrectedDriver) {
  const FamilyInfo& driver = find_family("corrected_driver", "");
  const OperatingPoint mains{230.0, 50.0};
  EXPECT_FALSE(driver.plausible(std::vector{1.944e-3, 12.1e-9, 4.88, 10.1, 39.3, 0.03}, {}, mains));
  EXPECT_TRUE(driver.plausible(std::vector{1.944e-3, 270e-9, 4.88, 10.1, 39.3, 0.03}, {}, mains)) << "with a filter";
  EXPECT_TRUE(driver.plausible(std::vector{1.944e-3, 12.1e-9, 30.0, 10.1, 39.3, 0.03}, {}, mains)) << "a buck stage";
}

// What two captures under noise of three steps left of a simulated resistor of 68 W: the record begins while 60 nF hold
// 200 V, and half a millisecond later they hold nothing.
TEST(Refusals, AReservoirThatHoldsNothingIsNoReservoirLamp) {
  const FamilyInfo& lamp = find_family("rectifier_capacitor", "constant_power");
  const OperatingPoint mains{230.0, 50.0};
  const auto plausible = [&](std::vector<double> values) {
    for (std::size_t j = values.size(); j < lamp.parameters.size(); ++j) values.push_back(lamp.parameters[j].absent);
    std::vector<double> state(lamp.states.size(), 0.0);
    state[0] = 200.0;
    return lamp.plausible(values, state, mains);
  };
  EXPECT_FALSE(plausible({208.0, 0.0, 0.0, 0.3, 6e-8, 0.0, 1830.0}));
  EXPECT_TRUE(plausible({30.0, 0.0, 0.0, 1.6, 6.8e-6, 0.0, 8.0})) << "an LED lamp of 8 W";
}

TEST(Refusals, CapturesOfDifferentMainsDoNotBelongTogether) {
  const Capture first = synthetic([](double t) { return std::sin(omega * t); });
  Capture second = first;
  for (std::size_t k = 0; k < second.samples(); ++k) {
    const double time = static_cast<double>(k) * second.sample_interval_s;
    second.voltage_v[k] = 170.0 * std::sin(2.0 * std::numbers::pi * 60.0 * time);
    second.current_a[k] = std::sin(2.0 * std::numbers::pi * 60.0 * time);
  }
  const std::vector<Capture> captures = {first, second};
  const std::vector<Figures> figures = {measure(first), measure(second)};
  EXPECT_THROW(fit_lamp(captures, figures), Error);
}

TEST(Refusals, NothingToFit) { EXPECT_THROW(fit_lamp({}, {}), Error); }

}  // namespace
}  // namespace lampload::fit_refusals_test
