// Figures of DC captures against closed forms, and what is refused.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <random>
#include <string>

#include "core/capture/conditioning.h"
#include "core/error.h"
#include "core/waveform/figures.h"

namespace lampload::waveform_direct_test {
namespace {

constexpr double kRate = 200e3;  // [Hz]

using Signal = std::function<double(double seconds)>;

Capture record(const Signal& voltage, const Signal& current, double seconds = 0.05) {
  Capture capture;
  capture.file = "simulated";
  capture.sample_interval_s = 1.0 / kRate;
  for (std::size_t k = 0; k < static_cast<std::size_t>(seconds * kRate); ++k) {
    const double t = static_cast<double>(k) / kRate;
    capture.voltage_v.push_back(voltage(t));
    capture.current_a.push_back(current(t));
  }
  return capture;
}

/// 0 or 1, beginning 0.2 ms into the record.
Signal pulses(double hz, double duty) {
  return [=](double t) { return std::fmod((t - 0.2e-3) * hz + 1000.0, 1.0) < duty ? 1.0 : 0.0; };
}
Signal times(double factor, const Signal& x) {
  return [=](double t) { return factor * x(t); };
}
Signal steady(double level) {
  return [=](double) { return level; };
}
Signal noise(double sd, double around, unsigned seed) {
  return [sd, around, generator = std::mt19937(seed), normal = std::normal_distribution<double>()](double) mutable {
    return around + sd * normal(generator);
  };
}

bool has(const Figures& figures, const std::string& code) {
  return std::any_of(figures.quality.begin(), figures.quality.end(),
                     [&](const QualityNote& n) { return n.code == code; });
}

TEST(DirectFigures, PulseWidth) {
  for (const auto& [hz, duty] : {std::pair{500.0, 0.3}, std::pair{1013.0, 0.04}, std::pair{210.0, 0.96}}) {
    const Figures figures = measure(record(times(24.0, pulses(hz, duty)), times(2.0, pulses(hz, duty))));
    ASSERT_TRUE(figures.direct && figures.direct->pulses) << hz;
    const Direct& direct = *figures.direct;
    const double edge = 2.0 * hz / kRate;  // an instant between two samples
    EXPECT_NEAR(direct.pulses->frequency_hz, hz, 0.002 * hz);
    EXPECT_NEAR(direct.pulses->duty, duty, edge);
    EXPECT_NEAR(direct.voltage_mean_v, 24.0 * duty, 24.0 * edge);
    EXPECT_NEAR(direct.current_mean_a, 2.0 * duty, 2.0 * edge);
    EXPECT_NEAR(direct.on_voltage_v, 24.0, 1e-9);
    EXPECT_NEAR(direct.on_current_a, 2.0, 1e-9);
    EXPECT_NEAR(figures.current_rms_a, 2.0 * std::sqrt(duty), 2.0 * edge / std::sqrt(duty));
    EXPECT_NEAR(figures.active_power_w, 48.0 * duty, 48.0 * edge);
    EXPECT_FALSE(direct.voltage_ripple_percent);
    EXPECT_FALSE(figures.mains_frequency_hz);
    EXPECT_FALSE(figures.turn_on);
    EXPECT_TRUE(figures.quality.empty()) << figures.quality[0].message;
  }
}

TEST(DirectFigures, SteadyWithRipple) {
  const auto ripple = [](double t) { return std::sin(2.0 * std::numbers::pi * 10e3 * t); };
  const Figures figures = measure(
      record([&](double t) { return 35.0 + 0.35 * ripple(t); }, [&](double t) { return 0.35 + 0.07 * ripple(t); }));
  ASSERT_TRUE(figures.direct);
  EXPECT_FALSE(figures.direct->pulses);
  EXPECT_NEAR(*figures.direct->voltage_ripple_percent, 2.0, 0.05);
  EXPECT_NEAR(*figures.direct->current_ripple_percent, 40.0, 1.0);
  EXPECT_NEAR(figures.direct->on_current_a, 0.35, 1e-4);
  EXPECT_NEAR(figures.active_power_w, 35.0 * 0.35 + 0.5 * 0.35 * 0.07, 1e-3);
}

TEST(DirectFigures, ADriverSwitchesTheCurrentAndTheChainHoldsMostOfTheVoltage) {
  const Signal on = pulses(1000.0, 0.4);
  const Figures figures =
      measure(record([&](double t) { return 30.0 + 5.0 * on(t); }, [&](double t) { return 0.35 * on(t) + 0.004; }));
  ASSERT_TRUE(figures.direct && figures.direct->pulses);
  EXPECT_NEAR(figures.direct->pulses->frequency_hz, 1000.0, 1.0);
  EXPECT_NEAR(figures.direct->pulses->duty, 0.4, 0.006);
  EXPECT_NEAR(figures.direct->on_voltage_v, 35.0, 1e-9);
  EXPECT_NEAR(figures.current_offset_a, 0.004, 1e-9);
  EXPECT_NEAR(figures.direct->on_current_a, 0.35, 1e-9);
  EXPECT_FALSE(figures.cut.supply_side_voltage);
}

TEST(DirectFigures, VoltageOnTheSupplySideIsNoticed) {
  const Signal on = pulses(1000.0, 0.4);
  const Figures figures = measure(record([&](double t) { return 24.1 - 0.1 * on(t); }, times(2.0, on)));
  EXPECT_TRUE(figures.cut.supply_side_voltage);
  EXPECT_TRUE(has(figures, "supply_side_voltage"));
}

TEST(DirectFigures, TurnOnOfASupplyThatRises) {
  const auto rise = [](double t) { return std::clamp((t - 5e-3) / 12e-3, 0.0, 1.0); };
  const Figures figures = measure(record([&](double t) { return 24.0 * rise(t); },
                                         [&](double t) { return 0.01 + std::max(0.0, 24.0 * rise(t) - 20.0) / 2.0; }));
  ASSERT_TRUE(figures.turn_on && figures.direct);
  EXPECT_NEAR(static_cast<double>(figures.turn_on->sample) / kRate, 5e-3, 2.5e-3);
  EXPECT_NEAR(figures.direct->on_voltage_v, 24.0, 0.01);
  EXPECT_NEAR(figures.current_offset_a, 0.01, 1e-9);
  EXPECT_NEAR(figures.direct->on_current_a, 2.0, 0.02);
  EXPECT_GT(figures.steady_first, static_cast<std::size_t>(16e-3 * kRate));
}

TEST(DirectFigures, SpikesOfASwitchedCableAreNoMains) {
  const auto spiky = [](double t) {
    const double phase = std::fmod(t * 1000.0, 1.0);
    return phase < 0.4 ? 24.0 : phase < 0.41 ? -30.0 : 0.0;
  };
  const Figures figures = measure(record(spiky, [&](double t) { return spiky(t) > 0.0 ? 2.0 : 0.0; }));
  ASSERT_TRUE(figures.direct && figures.direct->pulses);
  EXPECT_NEAR(figures.direct->pulses->duty, 0.4, 0.006);
}

TEST(DirectFigures, AProbeTheWrongWayRoundIsTurned) {
  Capture capture = record(times(-24.0, pulses(500.0, 0.3)), times(-2.0, pulses(500.0, 0.3)));
  condition(capture, {});
  const Figures figures = measure(capture);
  EXPECT_TRUE(has(figures, "reversed_voltage"));
  EXPECT_FALSE(has(figures, "reversed_clamp"));
  EXPECT_NEAR(figures.direct->on_voltage_v, 24.0, 1e-9);
  EXPECT_NEAR(figures.direct->on_current_a, 2.0, 1e-9);
  EXPECT_TRUE(capture.clipped.empty());  // flat tops are no clipping
}

TEST(DirectFigures, NoiseAndNothingAreRefused) {
  const auto message = [](const Capture& capture) -> std::string {
    try {
      measure(capture);
    } catch (const Error& error) {
      EXPECT_EQ(error.code(), ErrorCode::input_refused);
      EXPECT_FALSE(error.remedy().empty());
      return error.message();
    }
    return "accepted";
  };
  const std::string neither =
      "the voltage is neither mains of 45 to 65 Hz over a whole cycle nor steady DC nor DC switched at a regular rate";
  EXPECT_EQ(message(record(steady(0.0), steady(0.0))), "the voltage is zero throughout");
  // of both signs, of one sign, and switched at random
  EXPECT_NE(message(record(noise(0.1, 0.0, 1), noise(0.01, 0.0, 2))).find("no whole mains cycle"), std::string::npos);
  std::mt19937 generator(3);
  std::uniform_real_distribution<double> even(0.0, 5.0);
  EXPECT_EQ(message(record([&](double) { return even(generator); }, steady(1.0))), neither);
  bool on = false;
  const auto at_random = [&](double) {
    if (even(generator) < 0.05) on = !on;
    return on ? 24.0 : 0.0;
  };
  EXPECT_EQ(message(record(at_random, steady(1.0))), neither);
  // rectified mains, and half a cycle of them
  EXPECT_EQ(message(record([](double t) { return std::abs(325.0 * std::sin(2.0 * std::numbers::pi * 50.0 * t)); },
                           steady(1.0))),
            neither);
  EXPECT_EQ(
      message(record([](double t) { return 325.0 * std::sin(2.0 * std::numbers::pi * 50.0 * t); }, steady(1.0), 0.01)),
      neither);
}

TEST(DirectFigures, ASupplyWithoutALampIsNoticed) {
  EXPECT_TRUE(has(measure(record(noise(0.05, 24.0, 1), noise(0.01, 0.001, 2))), "no_lamp_current"));
  EXPECT_FALSE(has(measure(record(noise(0.05, 24.0, 1), noise(0.01, 0.1, 2))), "no_lamp_current"));
  EXPECT_TRUE(has(measure(record(times(24.0, pulses(500.0, 0.3)), noise(0.01, 0.001, 2))), "no_lamp_current"));
}

}  // namespace
}  // namespace lampload::waveform_direct_test
