// DC outputs: the edges of a pulse, the cable's drop, switching loss, chains side by side.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/advice/recommendation.h"

namespace lampload::advice_direct_test {
namespace {

LampEvidence known(const char* family, std::vector<double> values) {
  LampEvidence evidence;
  evidence.name = "boat rack light";
  evidence.spread.continuous_current.spread = 0.0;
  evidence.lamp = Lamp(find_family(family, ""), std::move(values));
  evidence.measured.emplace_back().direct = Direct{};
  return evidence;
}

Channel pulse_width_dimmer() {
  Channel channel;
  channel.supply.tolerance_percent = 0.0;
  channel.output.kind = OutputKind::dc_pwm;
  channel.output.switch_kind = SwitchKind::mosfet;
  channel.output.supply_voltage_v = 24.0;
  return channel;
}

const ConstraintResult* find(const Recommendation& answer, std::string_view name) {
  for (const ConstraintResult& result : answer.modes.at(0).constraints) {
    if (result.name == name) return &result;
  }
  return nullptr;
}

bool says(const std::vector<std::string>& list, std::string_view text) {
  return std::any_of(list.begin(), list.end(),
                     [&](const std::string& entry) { return entry.find(text) != std::string::npos; });
}

// A resistor follows at once; the cable's loop of 0.65 uH a metre with N of them in parallel takes L N / R * ln 10 to
// 90 %.
TEST(DirectConstraints, PulseMustRiseThroughTheCable) {
  Channel channel = pulse_width_dimmer();
  channel.output.pwm_hz = 20'000.0;
  EXPECT_TRUE(says(recommend(known("resistor", {12.0}), channel).not_checked,
                   "duty_rise: output.min_duty_percent, pwm_hz and edge_time_s"));
  channel.output.min_duty_percent = 10.0;
  channel.output.edge_time_s = 1e-6;
  channel.output.rated_current_a = 1000.0;
  channel.cable = Cable{10.0, 2.5};
  const Recommendation answer = recommend(known("resistor", {12.0}), channel);
  const ConstraintResult* rise = find(answer, "duty_rise");
  ASSERT_NE(rise, nullptr);
  EXPECT_NEAR(rise->limit, 5e-6, 1e-15);
  // 1 us + N 6.5 uH / 12 Ohm * 2.3026 = 1 us + N 1.2472 us: 4.74 us with 3
  EXPECT_EQ(rise->max_lamps, 3);
  EXPECT_NEAR(rise->value, 1e-6 + 3.0 * 6.5e-6 / 12.0 * std::numbers::ln10, 1e-9);
  EXPECT_EQ(answer.limited_by, "duty_rise");
}

// A strip's own inductance: ln 10 * L / R, whatever the count, for a strip that is nearly all resistance.
TEST(DirectConstraints, TheStripsOwnInductanceCounts) {
  Channel channel = pulse_width_dimmer();
  channel.output.pwm_hz = 1000.0;
  channel.output.min_duty_percent = 1.0;
  channel.output.edge_time_s = 0.0;
  channel.output.rated_current_a = 10.0;
  const Recommendation answer = recommend(known("strip", {18.0, 6.0, 10e-6}), channel);
  const ConstraintResult* rise = find(answer, "duty_rise");
  ASSERT_NE(rise, nullptr);
  const double expected_s = std::numbers::ln10 * 10e-6 / 6.0;
  EXPECT_NEAR(rise->value, expected_s, 0.15 * expected_s);  // its knee bends the resistance a little
  EXPECT_TRUE(rise->holds);
}

// 10 A through 12 m of 2.5 mm2: 18 mV per ampere and metre (BS 7671 appendix 4), 2.16 V of 24 V.
TEST(DirectConstraints, CablesDropIsToldAndBindsWhereItIsAsked) {
  Channel channel = pulse_width_dimmer();
  channel.output.rated_current_a = 10.0;
  EXPECT_TRUE(says(recommend(known("resistor", {12.0}), channel).not_checked, "voltage_drop: cable"));
  channel.cable = Cable{12.0, 2.5};
  Recommendation answer = recommend(known("resistor", {12.0}), channel);
  EXPECT_EQ(answer.max_lamps, 5);
  EXPECT_NEAR(find(answer, "voltage_drop")->value, 100.0 * 12.0 * 18e-3 * 10.0 / 24.0, 0.2);
  EXPECT_FALSE(find(answer, "voltage_drop")->holds);
  EXPECT_TRUE(find(answer, "voltage_drop")->advice);
  EXPECT_TRUE(says(answer.cautions, "voltage_drop does not hold, which only advises"));
  channel.limits.voltage_drop_percent = 4.0;  // 1.77 % a lamp
  answer = recommend(known("resistor", {12.0}), channel);
  EXPECT_EQ(answer.max_lamps, 2);
  EXPECT_EQ(answer.limited_by, "voltage_drop");
}

// 24 V * I * 1 us at 20 kHz, half of it at each edge: 0.48 W an ampere, 4.8 W at 10 A besides 0.02 Ohm * 100 A2 = 2 W.
TEST(DirectConstraints, PulsesCostSwitchingLoss) {
  Channel channel = pulse_width_dimmer();
  channel.output.rated_current_a = 10.0;
  channel.output.on_resistance_ohm = 0.02;
  channel.output.thermal_resistance_k_per_w = 10.0;
  channel.output.max_junction_c = 150.0;
  channel.output.ambient_c = 40.0;
  EXPECT_NEAR(find(recommend(known("resistor", {12.0}), channel), "switch_temperature")->value, 60.0, 1e-6);
  channel.output.edge_time_s = 1e-6;
  channel.output.pwm_hz = 20'000.0;
  EXPECT_NEAR(find(recommend(known("resistor", {12.0}), channel), "switch_temperature")->value, 108.0, 1e-6);
}

// Two chains share 0.7 A: each lamp takes its voltage at 0.35 A, and the longer chain decides at the top, the shorter
// at the bottom.
TEST(DirectConstraints, ChainsSideBySideShareTheCurrent) {
  const LampEvidence lamp = known("emitter", {1.6e-26, 0.6, 2.0});
  const double volt = 2.0 * 0.35 + 0.6 * std::log1p(0.35 / 1.6e-26);  // Shockley's equation
  Channel channel;
  channel.output.kind = OutputKind::dc_constant_current;
  channel.output.switch_kind = SwitchKind::mosfet;
  channel.output.current_a = 0.7;
  channel.output.parallel_chains = 2.0;
  channel.output.compliance_max_v = 3.2 * volt;
  channel.output.compliance_min_v = 1.5 * volt;
  const Recommendation answer = recommend(lamp, channel);
  EXPECT_EQ(answer.max_lamps, 6);
  EXPECT_NEAR(find(answer, "compliance")->value, 3.0 * volt, 1e-5 * volt);
  EXPECT_NE(find(answer, "compliance")->sentence.find("voltage of each of 2 chains side by side"), std::string::npos);
  EXPECT_TRUE(says(answer.cautions, "one that fails open leaves its share to the others"));
  channel.output.parallel_chains.reset();
  EXPECT_EQ(recommend(lamp, channel).max_lamps, 3);
}

}  // namespace
}  // namespace lampload::advice_direct_test
