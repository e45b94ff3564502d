// Turn-ons that are hard to see: a digitiser step as coarse as a tenth of the running current, and the voltage probed
// ahead of the switch.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "core/waveform/figures.h"

namespace lampload::waveform_turn_on_test {
namespace {

/// A lamp of `hot_a` peak that starts eight times above it at 15 ms; the voltage is there all the time.
Capture coarse_turn_on(double hot_a, double step_a) {
  std::mt19937_64 random(3);
  Capture capture;
  capture.file = "synthetic";
  capture.sample_interval_s = 20e-6;
  capture.current_step_a = step_a;
  for (int k = 0; k < 15000; ++k) {
    const double time = k * capture.sample_interval_s;
    const double sine = std::sin(2.0 * std::numbers::pi * 50.0 * time);
    const double on = time < 0.015 ? 0.0 : hot_a * (1.0 + 7.0 * std::exp(-(time - 0.015) / 0.005));
    const double noise = (static_cast<double>(random() >> 11U) * 0x1p-53 - 0.5) * step_a;
    capture.voltage_v.push_back(325.0 * sine);
    capture.current_a.push_back(step_a * std::round((on * sine + noise) / step_a + 0.6));
  }
  return capture;
}

TEST(TurnOn, IsFoundAheadOfTheSwitchInSpiteOfCoarseSteps) {
  const Figures figures = measure(coarse_turn_on(0.5, 0.08));
  ASSERT_TRUE(figures.turn_on);
  EXPECT_TRUE(figures.turn_on->supply_side_voltage);
  EXPECT_NEAR(static_cast<double>(figures.turn_on->sample) * 20e-6, 0.015, 0.0005);
  ASSERT_TRUE(figures.inrush);
  EXPECT_NEAR(figures.inrush->peak_a, 4.0, 0.4);
}

TEST(TurnOn, ShowsTheLampHoweverCoarseItsRunningCurrent) {
  const Figures figures = measure(coarse_turn_on(0.5, 0.08));
  EXPECT_TRUE(std::none_of(figures.quality.begin(), figures.quality.end(),
                           [](const QualityNote& note) { return note.code == "no_lamp_current"; }));
}

// Closed 5 degrees ahead of a zero crossing, a capacitor behind a resistor draws the voltage there over the resistance
// (closed form of the RC circuit) and is charged before the voltage is worth a sixth of its crest.
TEST(TurnOn, ShowsItsSurgeThoughTheVoltageIsNearlyZero) {
  constexpr double resistance_ohm = 25.0;
  constexpr double capacitance_f = 1e-6;
  constexpr double interval_s = 10e-6;
  constexpr int closing_sample = 4972;
  constexpr double closing_deg = 360.0 * 50.0 * interval_s * closing_sample - 720.0;  // 174.96
  Capture capture;
  capture.file = "synthetic";
  capture.sample_interval_s = interval_s;
  double charged_v = 0.0;
  for (int k = 0; k < 30000; ++k) {
    const double degrees = 360.0 * 50.0 * interval_s * k;
    const double v = k < closing_sample ? 0.0 : 325.0 * std::sin(degrees * std::numbers::pi / 180.0);
    const double current = (v - charged_v) / resistance_ohm;
    charged_v = v - (v - charged_v) * std::exp(-interval_s / (resistance_ohm * capacitance_f));
    capture.voltage_v.push_back(v);
    capture.current_a.push_back(current);
  }
  const Figures figures = measure(capture);
  ASSERT_TRUE(figures.turn_on);
  EXPECT_FALSE(figures.turn_on->supply_side_voltage);
  EXPECT_NEAR(figures.turn_on->phase_deg, closing_deg, 0.5);
  ASSERT_TRUE(figures.inrush);
  const double peak_a = 325.0 * std::sin(closing_deg * std::numbers::pi / 180.0) / resistance_ohm;
  EXPECT_NEAR(figures.inrush->peak_a, peak_a, 0.01 * peak_a);
}

TEST(TurnOn, IsNotSeenInARecordThatBeginsRunning) {
  Capture capture = coarse_turn_on(0.5, 0.02);
  for (std::size_t k = 0; k < capture.samples(); ++k) capture.current_a[k] = capture.voltage_v[k] / 650.0;
  EXPECT_FALSE(measure(capture).turn_on);
}

}  // namespace
}  // namespace lampload::waveform_turn_on_test
