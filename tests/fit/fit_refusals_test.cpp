// What the fit must not take for a lamp, and what it refuses.

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "core/error.h"
#include "fit/fit.h"

namespace lampload {
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
  return fit_lamp(std::span(&capture, 1), figures);
}

TEST(Refusals, ACapacitorIsNoLamp) {
  const FitResult fit = fit_of(synthetic([](double t) { return 0.5 * std::cos(omega * t); }));
  EXPECT_FALSE(fit.accepted) << fit.family;
  EXPECT_NE(fit.verdict.find("no family describes this lamp"), std::string::npos) << fit.verdict;
}

TEST(Refusals, AMotorIsNoLamp) {
  // 60 degrees behind: a plain inductance with some resistance
  const FitResult fit = fit_of(synthetic([](double t) { return 0.5 * std::sin(omega * t - std::numbers::pi / 3.0); }));
  EXPECT_FALSE(fit.accepted) << fit.family;
}

TEST(Refusals, ACurrentThatStaysConstantInEachHalfCycleIsNoneOfTheseFamilies) {
  const FitResult fit = fit_of(synthetic([](double t) { return std::copysign(0.2, std::sin(omega * t)); }));
  EXPECT_FALSE(fit.accepted) << fit.family;
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
}  // namespace lampload
