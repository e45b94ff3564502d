// A capture of a finished channel against its prediction. Resistors: every expected value is Ohm's law.

#include "core/advice/comparison.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <stdexcept>

#include "core/error.h"

namespace lampload::advice_comparison_test {
namespace {

constexpr double pi = std::numbers::pi;

LampEvidence heater() {
  LampEvidence lamp;
  lamp.name = "workshop heater";
  lamp.lamp = Lamp(find_family("resistor", ""), {529.0});
  lamp.covariance = {0.01 * 0.01};  // 1 % standard uncertainty
  lamp.lower_95 = {518.0};
  lamp.upper_95 = {540.0};
  lamp.identified = {true};
  return lamp;
}

Channel dimmer() {
  Channel channel;
  channel.name = "workshop dimmer";
  channel.supply.source_resistance_ohm = 1.0;
  channel.output.edges = {Edge::leading, Edge::trailing};
  channel.output.rated_current_a = 2.0;
  channel.output.repetitive_peak_current_a = 10.0;
  channel.output.surge_peak_current_a = 20.0;
  channel.output.min_conduction_deg = 30.0;
  channel.output.max_conduction_deg = 170.0;
  return channel;
}

/// Eight cycles at 20 kS/s of a resistance behind 1 Ohm on 236 V, fed during the last `conduction_deg` of each half
/// cycle.
Capture capture_of(double load_ohm, double conduction_deg = 180.0) {
  Capture capture;
  capture.file = "channel.csv";
  capture.sample_interval_s = 50e-6;
  for (int k = 0; k < 3200; ++k) {
    const double angle = 2.0 * pi * 50.0 * k * capture.sample_interval_s;
    const double of_half = std::fmod(angle, pi) * 180.0 / pi;
    const double on = of_half >= 180.0 - conduction_deg ? 1.0 : 0.0;
    const double source_v = 236.0 * std::numbers::sqrt2 * std::sin(angle);
    capture.voltage_v.push_back(on * source_v * load_ohm / (load_ohm + 1.0));
    capture.current_a.push_back(on * source_v / (load_ohm + 1.0));
  }
  return capture;
}

std::vector<LoadItem> of_four(const LampEvidence& lamp) { return {{lamp, 4}}; }

const Compared& find(const std::vector<Compared>& list, const std::string& name) {
  for (const Compared& one : list) {
    if (one.name == name) return one;
  }
  throw std::runtime_error("no " + name);
}

TEST(Comparison, FourHeatersDoWhatWasPredicted) {
  const Capture capture = capture_of(529.0 / 4.0);
  const Comparison made = compare(of_four(heater()), dimmer(), std::nullopt, capture, measure(capture));
  EXPECT_EQ(made.mode, Mode::on_off);
  EXPECT_EQ(made.conduction_deg, 180.0);
  EXPECT_NEAR(made.supply_v, 236.0, 0.5);
  const double rms_a = 236.0 / (529.0 / 4.0 + 1.0);
  const Compared& rms = find(made.figures, "current_rms");
  EXPECT_NEAR(rms.measured, rms_a, 2e-3 * rms_a);
  EXPECT_NEAR(rms.predicted, rms_a, 5e-3 * rms_a);
  // 2 % parameter, 10 % spread between pieces, 2 % clamp, in quadrature
  EXPECT_NEAR(rms.upper / rms.predicted - 1.0, std::sqrt(0.02 * 0.02 + 0.1 * 0.1 + 0.02 * 0.02), 3e-3);
  const Compared& power = find(made.figures, "active_power");
  EXPECT_NEAR(power.predicted, rms_a * rms_a * 529.0 / 4.0, 0.01 * power.measured);
  EXPECT_TRUE(made.agrees());
  EXPECT_EQ(made.worst(), nullptr);
  const Compared& rated = find(made.constraints, "continuous_current");
  EXPECT_EQ(rated.limit, 2.0);
  EXPECT_NEAR(rated.measured, rms_a, 2e-3 * rms_a);
  EXPECT_NEAR(find(made.constraints, "repetitive_peak").measured, rms_a * std::numbers::sqrt2, 0.01 * rms_a);
  EXPECT_TRUE(made.cautions.empty());
}

TEST(Comparison, AFifthHeaterIsFound) {
  const Capture capture = capture_of(529.0 / 5.0);
  const Comparison made = compare(of_four(heater()), dimmer(), std::nullopt, capture, measure(capture));
  EXPECT_FALSE(made.agrees());
  ASSERT_NE(made.worst(), nullptr);
  EXPECT_TRUE(made.worst()->limit) << "constraints come before figures";
  const Compared& rated = find(made.constraints, "continuous_current");
  EXPECT_FALSE(rated.agrees());
  EXPECT_NEAR(rated.off(), 0.25, 0.01);
}

TEST(Comparison, ACutIsSimulatedAtItsAngle) {
  const Capture capture = capture_of(529.0 / 4.0, 90.0);
  const Comparison made = compare(of_four(heater()), dimmer(), std::nullopt, capture, measure(capture));
  EXPECT_EQ(made.mode, Mode::leading_edge);
  EXPECT_NEAR(made.conduction_deg, 90.0, 1.0);
  EXPECT_NEAR(made.supply_v, 236.0, 3.0);
  // half of the half cycle, from the crest on: 1 / sqrt 2 of the uncut rms
  const double rms_a = 236.0 / (529.0 / 4.0 + 1.0) / std::numbers::sqrt2;
  EXPECT_NEAR(find(made.figures, "current_rms").predicted, rms_a, 0.02 * rms_a);
  EXPECT_TRUE(made.agrees());
  EXPECT_TRUE(find(made.figures, "conduction_angle").agrees());
}

TEST(Comparison, AnAngleThatTheChannelDoesNotAllowIsSaid) {
  const Capture capture = capture_of(529.0 / 4.0, 90.0);
  Channel channel = dimmer();
  channel.output.min_conduction_deg = 120.0;
  const Comparison made = compare(of_four(heater()), channel, std::nullopt, capture, measure(capture));
  EXPECT_FALSE(find(made.figures, "conduction_angle").agrees());
  EXPECT_FALSE(made.agrees());
}

TEST(Comparison, AProbeFactorThatIsWrongIsSaid) {
  Capture capture = capture_of(529.0 / 4.0);
  for (double& volt : capture.voltage_v) volt *= 1.2;
  const Comparison made = compare(of_four(heater()), dimmer(), std::nullopt, capture, measure(capture));
  ASSERT_FALSE(made.cautions.empty());
  EXPECT_NE(made.cautions[0].find("Check the probe's factor"), std::string::npos) << made.cautions[0];
}

std::string fault(const LampEvidence& lamp, std::optional<Mode> mode, const Capture& capture) {
  try {
    compare(of_four(lamp), dimmer(), mode, capture, measure(capture));
  } catch (const Error& error) {
    EXPECT_EQ(error.code(), ErrorCode::input_refused);
    return error.message();
  }
  return "compared";
}

TEST(Comparison, WhatCannotBeComparedIsRefused) {
  const Capture uncut = capture_of(529.0 / 4.0);
  LampEvidence unknown;
  unknown.name = "candle";
  EXPECT_EQ(fault(unknown, std::nullopt, uncut), "'candle' has no circuit, so nothing can be predicted");
  EXPECT_EQ(fault(heater(), Mode::dc_pwm, uncut), "channel 'workshop dimmer' cannot do dc_pwm");
  EXPECT_EQ(fault(heater(), Mode::trailing_edge, capture_of(529.0 / 4.0, 90.0)),
            "the capture shows a leading cut, and the mode is said to be trailing_edge");
  EXPECT_EQ(fault(heater(), Mode::trailing_edge, uncut), "compared") << "a dimmer that is fully on";
}

}  // namespace
}  // namespace lampload::advice_comparison_test
