// Each constraint by a hand calculation, and what holds for any channel.

#include "core/advice/constraint.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <random>
#include <string>

namespace lampload::advice_constraints_test {
namespace {

constexpr double crest_v = 230.0 * std::numbers::sqrt2;

LampEvidence known(Lamp lamp) {
  LampEvidence evidence;
  evidence.name = "boathouse lamp";
  evidence.label_dimmable = true;
  evidence.spread.continuous_current.spread = 0.0;
  for (const char* name : {"repetitive_peak", "surge_peak", "surge_i2t"}) evidence.spread.figure(name)->spread = 0.0;
  evidence.lamp = std::move(lamp);
  return evidence;
}

LampEvidence resistor(double ohm) { return known({find_family("resistor", ""), {ohm}}); }

LampEvidence reservoir(double input_f = 0.0) {
  return known(
      Lamp(find_family("rectifier_capacitor", "led_string"), {15.0, 0.0, input_f, 1.6, 4.7e-6, 1.0, 200.0, 1500.0}));
}

/// 230 V without tolerance; nothing else is known.
Channel relay() {
  Channel channel;
  channel.supply.tolerance_percent = 0.0;
  channel.output.kind = OutputKind::relay;
  channel.output.switch_kind = SwitchKind::relay;
  return channel;
}

Channel dimmer() {
  Channel channel;
  channel.supply.tolerance_percent = 0.0;
  channel.output.edges = {Edge::leading, Edge::trailing};
  channel.output.min_conduction_deg = 30.0;
  channel.output.max_conduction_deg = 170.0;
  return channel;
}

const ModeVerdict& in(const Recommendation& answer, Mode mode) {
  return *std::find_if(answer.modes.begin(), answer.modes.end(), [&](const ModeVerdict& v) { return v.mode == mode; });
}

const ConstraintResult* find(const ModeVerdict& mode, std::string_view name, std::string_view unit = "") {
  for (const ConstraintResult& result : mode.constraints) {
    if (result.name == name && (unit.empty() || result.unit == unit)) return &result;
  }
  return nullptr;
}

bool says(const std::vector<std::string>& list, std::string_view text) {
  return std::any_of(list.begin(), list.end(),
                     [&](const std::string& entry) { return entry.find(text) != std::string::npos; });
}

// The junction's room is 125 - 60 instead of 125 - 40 K: 2 A become 1.529 A, 3 resistors of 0.4348 A.
TEST(Constraints, TheRatingIsDeratedForWarmerAir) {
  Channel channel = relay();
  channel.output.rated_current_a = 2.0;
  channel.output.ambient_c = 60.0;
  channel.output.max_junction_c = 125.0;
  channel.output.derate_from_c = 40.0;
  Recommendation answer = recommend(resistor(529.0), channel);
  const ConstraintResult* derated = find(answer.modes[0], "continuous_current");
  EXPECT_NEAR(derated->limit, 2.0 * 65.0 / 85.0, 1e-12);
  EXPECT_EQ(derated->source, "channel rating, output.rated_current_a, derated from 40 to 60 degC");
  EXPECT_EQ(derated->max_lamps, 3);
  channel.output.ambient_c = 20.0;  // cooler air gives nothing
  EXPECT_EQ(find(recommend(resistor(529.0), channel).modes[0], "continuous_current")->limit, 2.0);
  channel.output.max_junction_c.reset();
  EXPECT_TRUE(says(recommend(resistor(529.0), channel).not_checked,
                   "continuous_current: output.ambient_c and output.max_junction_c, to derate the rating"));
}

// Trailing edge at 90 degrees or later: 2 R I^2 and V I t / 6 at each cut. By hand at the worst angle of each.
TEST(Constraints, SwitchTemperatureCountsBothDevicesAndTheEdges) {
  Channel channel = dimmer();
  channel.output.min_conduction_deg = 89.0;
  channel.output.max_conduction_deg = 90.0;
  channel.output.on_resistance_ohm = 0.2;
  channel.output.thermal_resistance_k_per_w = 20.0;
  channel.output.max_junction_c = 60.0;
  channel.output.ambient_c = 40.0;
  const auto temperature = [&] {
    const Recommendation answer = recommend(resistor(529.0), channel);
    return *find(in(answer, Mode::trailing_edge), "switch_temperature");
  };
  const double rms_a = 230.0 / 529.0 / std::numbers::sqrt2;
  const ConstraintResult cold = temperature();
  EXPECT_EQ(cold.max_lamps, 5);  // 20 K/W * 0.4 Ohm * (n 0.3074 A)^2 <= 20 K: n = 5.14
  EXPECT_NEAR(cold.value, 40.0 + 20.0 * 0.4 * std::pow(5.0 * rms_a, 2), 0.2);
  channel.output.edge_time_s = 50e-6;
  const ConstraintResult warm = temperature();
  // n^2 0.756 K + n 20 * 325.3 * 0.6149 * 50e-6 / 6 * 100 = n 3.333 K
  EXPECT_EQ(warm.max_lamps, 3);
  EXPECT_NEAR(warm.value, 40.0 + 20.0 * (0.4 * std::pow(3.0 * rms_a, 2) + 3.0 * 0.16667), 0.3);
}

// A resistor through a bridge's switch, on again while hot: what it runs at, and 2 K/W * sqrt(t / 10 ms) in the surge.
TEST(Constraints, TheSurgeHeatsTheJunctionOnTopOfOperation) {
  Channel channel = dimmer();
  channel.output.switch_kind = SwitchKind::bridge_mosfet;
  channel.output.on_resistance_ohm = 0.0;
  channel.output.on_voltage_v = 0.6;
  channel.output.thermal_resistance_k_per_w = 10.0;
  channel.output.max_junction_c = 100.0;
  channel.output.ambient_c = 40.0;
  EXPECT_TRUE(
      says(recommend(resistor(529.0), channel).not_checked, "output.pulse_10ms_k_per_w (heating by the surge)"));
  channel.output.pulse_10ms_k_per_w = 2.0;
  const Recommendation answer = recommend(resistor(529.0), channel);
  const ModeVerdict& on = in(answer, Mode::on_off);
  const auto surge = std::find_if(on.constraints.begin(), on.constraints.end(), [](const ConstraintResult& result) {
    return result.name == "switch_temperature" && result.sentence.find("surge") != std::string::npos;
  });
  ASSERT_NE(surge, on.constraints.end());
  // 1.2 V at 0.9003 * 0.4348 A a lamp: 0.4697 W; the half wave's rise is between that of its mean and of its peak power
  const int n = *surge->max_lamps;
  const double running_k = 10.0 * 0.4697 * n;
  EXPECT_GT(surge->value, 40.0 + running_k + 2.0 * 0.4697 * n * 0.9);
  EXPECT_LT(surge->value, 40.0 + running_k + 2.0 * 0.4697 * n * 1.5708);
  EXPECT_LT(*surge->max_lamps, *find(on, "switch_temperature")->max_lamps);
}

// One ampere through a bridge and one switch at 0.6 V a diode: about 1.2 W (common practice, no source; 2 * 0.6 V times
// the mean of a rectified sine, 0.9003 A, is 1.08 W). At 100 K/W that is 108 K.
TEST(Constraints, OneAmpereThroughABridge) {
  Channel channel = dimmer();
  channel.output.switch_kind = SwitchKind::bridge_mosfet;
  channel.output.on_resistance_ohm = 0.0;
  channel.output.on_voltage_v = 0.6;
  channel.output.thermal_resistance_k_per_w = 100.0;
  channel.output.max_junction_c = 150.0;
  channel.output.ambient_c = 40.0;
  const Recommendation answer = recommend(resistor(228.8), channel);
  const ConstraintResult* result = find(in(answer, Mode::on_off), "switch_temperature");
  EXPECT_NEAR((result->value - 40.0) / 100.0, 1.2 * 0.9003, 0.01);
}

// A relay that aims at the zero crossing and bounces for 2 ms makes up to 36 degrees later: 191 V onto 16 Ohm and an
// empty reservoir, instead of a gentle charge.
TEST(Constraints, ContactsMakeWithinTheirBounce) {
  Channel channel = relay();
  channel.output.zero_cross_turn_on = true;
  channel.output.contact_make_a = 40.0;
  const auto make = [&] {
    const Recommendation answer = recommend(reservoir(), channel);
    return *find(answer.modes[0], "contact_make");
  };
  const ConstraintResult still = make();
  channel.output.contact_bounce_s = 2e-3;
  const ConstraintResult bouncing = make();
  const double one_a = (crest_v * std::sin(36.0 * std::numbers::pi / 180.0) - 1.6) / 16.0;
  EXPECT_EQ(bouncing.max_lamps, static_cast<int>(40.0 / one_a));
  EXPECT_NEAR(bouncing.value, *bouncing.max_lamps * one_a, 0.02 * bouncing.value);
  EXPECT_GT(*still.max_lamps, 2 * *bouncing.max_lamps);
}

// Four times the rated operations at the square of the current: half of the rated current. 20 A over 0.6149 A.
TEST(Constraints, ElectricalLifeLowersTheMakeCurrent) {
  Channel channel = relay();
  channel.output.contact_make_a = 40.0;
  EXPECT_TRUE(says(recommend(resistor(529.0), channel).not_checked,
                   "contact_make: output.contact_operations and limits.operations (electrical life)"));
  channel.output.contact_operations = 30'000.0;
  channel.limits.operations = 120'000.0;
  Recommendation answer = recommend(resistor(529.0), channel);
  EXPECT_NEAR(find(answer.modes[0], "contact_make")->limit, 20.0, 1e-9);
  EXPECT_EQ(find(answer.modes[0], "contact_make")->max_lamps, 32);
  channel.limits.operations = 10'000.0;  // fewer than rated gives nothing
  answer = recommend(resistor(529.0), channel);
  EXPECT_EQ(find(answer.modes[0], "contact_make")->limit, 40.0);
  EXPECT_EQ(find(answer.modes[0], "contact_make")->max_lamps, 65);
}

// Terminals that stay up: no number of such lamps can keep it; a resistor's follow the supply to its zero crossing.
TEST(Constraints, TerminalsThatStayUpRuleATrailingEdgeOut) {
  Channel channel = dimmer();
  EXPECT_EQ(find(in(recommend(reservoir(), channel), Mode::trailing_edge), "terminal_release"), nullptr);
  channel.output.zero_cross_sense_v = 20.0;
  Recommendation answer = recommend(reservoir(47e-9), channel);
  const ModeVerdict& cut = in(answer, Mode::trailing_edge);
  const ConstraintResult* held = find(cut, "terminal_release");
  ASSERT_NE(held, nullptr);
  EXPECT_FALSE(held->holds);
  EXPECT_FALSE(held->max_lamps.has_value());
  EXPECT_GT(held->value, 180.0);
  EXPECT_NE(held->sentence.find("no number of these lamps can keep it"), std::string::npos);
  EXPECT_EQ(cut.max_lamps, 0);
  EXPECT_EQ(cut.limited_by, "terminal_release");
  answer = recommend(resistor(529.0), channel);
  EXPECT_TRUE(find(in(answer, Mode::trailing_edge), "terminal_release")->holds);
}

// 7.2 mA through 100 nF: 27.6 mW in a lamp of 100 W, and half of the current each in two of them, which is half of the
// power together.
TEST(Constraints, GhostingFallsWithTheCount) {
  Channel channel = dimmer();
  channel.output.snubber_f = 100e-9;
  channel.output.snubber_ohm = 100.0;
  Recommendation answer = recommend(resistor(529.0), channel);
  const ConstraintResult* told = find(answer.modes[0], "ghosting");
  ASSERT_NE(told, nullptr);
  EXPECT_TRUE(told->advice);
  EXPECT_TRUE(told->holds);
  EXPECT_FALSE(told->max_lamps.has_value());

  const double one_percent = 100.0 * std::pow(529.0 / std::hypot(629.0, 31831.0), 2);
  channel.output.rated_current_a = 5.0;
  channel.limits.ghosting_percent = 0.5 * one_percent;
  answer = recommend(resistor(529.0), channel);
  const ConstraintResult* asked = find(answer.modes[0], "ghosting");
  EXPECT_FALSE(asked->advice);
  EXPECT_TRUE(asked->holds);
  EXPECT_NE(asked->sentence.find("; 2 lamps or more keep it"), std::string::npos) << asked->sentence;
  // one lamp alone then is too few
  channel.output.rated_current_a = 0.5;
  answer = recommend(resistor(529.0), channel);
  EXPECT_EQ(answer.mode, Mode::none);
  EXPECT_EQ(answer.limited_by, "ghosting");
}

TEST(Constraints, GhostingOfAReservoirLampIsACaution) {
  Channel channel = dimmer();
  channel.output.snubber_f = 100e-9;
  channel.output.snubber_ohm = 100.0;
  channel.output.rated_current_a = 0.5;
  const Recommendation answer = recommend(reservoir(), channel);
  EXPECT_NE(answer.mode, Mode::none);
  EXPECT_FALSE(find(answer.modes[0], "ghosting")->holds);
  EXPECT_TRUE(says(answer.cautions, "ghosting does not hold, which only advises"));
  channel.output.snubber_f.reset();
  EXPECT_TRUE(says(recommend(reservoir(), channel).not_checked, "ghosting: output.snubber_f or output.off_leakage_a"));
}

// A resistor takes no more under any cut than uncut; a reservoir's charge comes in a short pulse.
TEST(Constraints, LampStressIsTheRmsCurrentOverTheUncutOne) {
  Channel channel = dimmer();
  const Recommendation warm = recommend(resistor(529.0), channel);
  EXPECT_NEAR(find(in(warm, Mode::leading_edge), "lamp_stress")->value, 0.9994, 1e-3);  // at 170 degrees
  const Recommendation pulsed = recommend(reservoir(), channel);
  EXPECT_GT(find(in(pulsed, Mode::leading_edge), "lamp_stress")->value, 1.5);
  EXPECT_EQ(find(in(pulsed, Mode::on_off), "lamp_stress"), nullptr);
  channel.limits.lamp_stress_factor = 1.2;
  const Recommendation asked = recommend(reservoir(), channel);
  EXPECT_EQ(in(asked, Mode::leading_edge).max_lamps, 0);
  EXPECT_EQ(in(asked, Mode::leading_edge).limited_by, "lamp_stress");
}

// Constant current out of a reservoir: from the angle p where it was last charged until the rectified sine meets it
// again at q of the next half cycle, V (sin p - sin q) = I (pi + q - p) / (w C). Uncut p is the crest.
TEST(Constraints, LampStressTellsTheRippleOfAReservoir) {
  constexpr double load_a = 0.03, reservoir_f = 4.7e-6;
  const auto ripple_v = [&](double p) {
    double low = 0.0, high = p;
    for (int i = 0; i < 60; ++i) {
      const double q = 0.5 * (low + high);
      const double falls_v = load_a * (std::numbers::pi + q - p) / (100.0 * std::numbers::pi * reservoir_f);
      (crest_v * (std::sin(p) - std::sin(q)) > falls_v ? low : high) = q;
    }
    return crest_v * (std::sin(p) - std::sin(low));
  };
  const Lamp lamp(find_family("rectifier_capacitor", "constant_current"),
                  {1.0, 0.0, 0.0, 1.6, reservoir_f, 0.0, load_a});
  Channel channel = dimmer();
  channel.supply.tolerance_percent = 0.0;
  channel.output.min_conduction_deg = 59.0;
  channel.output.max_conduction_deg = 60.0;
  const double ripple_uncut_v = ripple_v(0.5 * std::numbers::pi);
  const double ripple_cut_v = ripple_v(59.0 / 180.0 * std::numbers::pi);
  const std::array<LampGroup, 2> groups = {LampGroup{lamp, 2},
                                           LampGroup{Lamp(find_family("resistor", ""), {529.0}), 1}};
  DrivenChannel driven(path_of(channel, 230.0), groups);
  const SteadyFigures uncut = driven.steady({});
  const SteadyFigures cut = driven.steady({Drive::trailing_edge, 59.0});
  EXPECT_NEAR(uncut.lamps[0].ripple_v, ripple_uncut_v, 0.02 * ripple_uncut_v);
  EXPECT_NEAR(cut.lamps[0].ripple_v, ripple_cut_v, 0.02 * ripple_cut_v);
  EXPECT_EQ(cut.lamps[1].ripple_v, 0.0);
  EXPECT_NEAR(uncut.lamps[1].rms_a, 230.0 / 529.0, 1e-3);

  channel.output.rated_current_a = 0.5;
  const Recommendation answer = recommend(known(lamp), channel);
  const ConstraintResult* stress = find(in(answer, Mode::trailing_edge), "lamp_stress");
  const double current = cut.lamps[0].rms_a / uncut.lamps[0].rms_a;
  EXPECT_NEAR(stress->value, std::max(current, ripple_cut_v / ripple_uncut_v), 0.03 * stress->value);
  const std::size_t at = stress->sentence.find(" times, ripple ");
  ASSERT_NE(at, std::string::npos) << stress->sentence;
  EXPECT_NEAR(std::stod(stress->sentence.substr(at + 15)), ripple_cut_v / ripple_uncut_v, 0.03);
}

// A resistor from 30 to 170 degrees of a leading edge: the textbook's powers, (a - sin(2a) / 2) / pi for a conduction
// of a, are 2.88 % and 99.89 % of the uncut one.
TEST(Constraints, LowestLevelIsComparedWhereItIsAsked) {
  Channel channel = dimmer();
  EXPECT_TRUE(says(recommend(resistor(529.0), channel).not_checked, "dimming_range: limits.least_level_percent"));
  channel.output.rated_current_a = 2.0;
  channel.limits.least_level_percent = 4.0;
  const Recommendation reached = recommend(resistor(529.0), channel);
  const ConstraintResult* level = find(in(reached, Mode::leading_edge), "dimming_range");
  ASSERT_NE(level, nullptr);
  EXPECT_NEAR(level->value, 100.0 * 0.02883 / 0.9989, 0.1);
  EXPECT_TRUE(level->holds);
  EXPECT_EQ(in(reached, Mode::leading_edge).max_lamps, 4);
  EXPECT_EQ(find(in(reached, Mode::on_off), "dimming_range"), nullptr);
  channel.limits.least_level_percent = 1.0;
  const Recommendation missed = recommend(resistor(529.0), channel);
  EXPECT_EQ(in(missed, Mode::leading_edge).limited_by, "dimming_range");
  EXPECT_EQ(missed.mode, Mode::on_off);
}

// Order 15 of a resistor at 90 degrees is 0.0455 of its full current; 0.15 A of class A are reached with 759 W at 230 V
// (closed form).
TEST(Constraints, HarmonicsOfADimmerAreClassA) {
  Channel channel = dimmer();
  channel.limits.harmonics = true;
  const Recommendation answer = recommend(resistor(529.0), channel);
  const ConstraintResult* dimmed = find(in(answer, Mode::leading_edge), "harmonics");
  EXPECT_EQ(dimmed->max_lamps, 7);  // 100 W each
  EXPECT_NE(dimmed->sentence.find("order 15 is worst, class A"), std::string::npos) << dimmed->sentence;
  const ConstraintResult* alone = find(in(answer, Mode::on_off), "harmonics");
  EXPECT_NEAR(alone->value, 0.0, 1.0);  // a resistor has none
  channel.supply.voltage_v = 120.0;
  channel.supply.frequency_hz = 60.0;
  EXPECT_TRUE(says(recommend(resistor(144.0), channel).not_checked, "sets nothing for supplies below 220 V"));
}

// Pulses of a lamp with a reservoir last less than 60 degrees: three phases do not overlap in the neutral.
TEST(Constraints, NeutralOfThreePhases) {
  Channel channel = relay();
  channel.cable = Cable{1.0, 2.5};
  EXPECT_EQ(find(recommend(reservoir(), channel).modes[0], "neutral_current"), nullptr);
  channel.cable->shared_neutral = true;
  EXPECT_TRUE(says(recommend(reservoir(), channel).not_checked, "neutral_current: cable.rated_current_a"));
  channel.cable->rated_current_a = 2.0;
  channel.output.rated_current_a = 100.0;
  const Recommendation answer = recommend(
      known(Lamp(find_family("rectifier_capacitor", "constant_power"), {15.0, 0.0, 0.0, 1.6, 10e-6, 0.0, 10.0})),
      channel);
  const ConstraintResult* neutral = find(answer.modes[0], "neutral_current");
  const ConstraintResult* phase = find(answer.modes[0], "continuous_current");
  ASSERT_NE(neutral, nullptr);
  EXPECT_NEAR(neutral->value, std::numbers::sqrt3 * phase->value, 0.01 * neutral->value);
  EXPECT_NEAR(*neutral->max_lamps, 2.0 / neutral->value * answer.max_lamps, 1.0);
}

// BS 7671 appendix 4: 29 mV per ampere and metre for 1.5 mm2. 30 m, 10 lamps of 0.4348 A: 3.78 V, 1.64 %.
TEST(Constraints, VoltageDropByTheInstallationTables) {
  Channel channel = relay();
  channel.output.rated_current_a = 4.5;
  struct Row {
    double mm2, volt_per_a_m;
  };
  for (const Row row : std::array<Row, 4>{{{1.0, 44e-3}, {1.5, 29e-3}, {2.5, 18e-3}, {4.0, 11e-3}}}) {
    channel.cable = Cable{30.0, row.mm2};
    const Recommendation answer = recommend(resistor(529.0), channel);
    const ConstraintResult* drop = find(answer.modes[0], "voltage_drop");
    EXPECT_EQ(answer.max_lamps, 10);
    const double cable_ohm = 30.0 * row.volt_per_a_m;
    EXPECT_NEAR(drop->value, 100.0 * cable_ohm / (52.9 + cable_ohm), 0.03 * drop->value) << row.mm2;
    EXPECT_TRUE(drop->advice);
  }
  channel.cable = Cable{30.0, 1.5};
  channel.limits.voltage_drop_percent = 1.0;
  const Recommendation answer = recommend(resistor(529.0), channel);
  EXPECT_EQ(answer.limited_by, "voltage_drop");
  EXPECT_EQ(answer.max_lamps, 6);  // 0.164 % a lamp
}

// A gate pulse too short for a winding: 325 V through 1 H for 100 us is 33 mA.
TEST(Constraints, AWindingMustLatchWithinTheGatePulse) {
  Channel channel = dimmer();
  channel.output.switch_kind = SwitchKind::triac;
  channel.output.edges = {Edge::leading};
  channel.output.on_voltage_v = 1.0;
  channel.output.min_conduction_deg = 60.0;
  channel.output.max_conduction_deg = 91.0;
  channel.output.latching_current_a = 0.05;
  channel.output.rated_current_a = 0.4;
  const auto latch = [&] {
    const Recommendation answer = recommend(known(Lamp(find_family("inductive", ""), {500.0, 1.0})), channel);
    return *find(in(answer, Mode::leading_edge), "minimum_load");
  };
  EXPECT_TRUE(latch().holds);
  channel.output.gate_pulse_s = 100e-6;
  EXPECT_FALSE(latch().holds);
  channel.output.gate_pulse_s = 1e-3;
  EXPECT_TRUE(latch().holds);
}

TEST(Constraints, SoftStartRaisesTheCountOfFilaments) {
  Channel channel = dimmer();
  channel.output.surge_peak_current_a = 10.0;
  channel.output.zero_cross_turn_on = false;
  const LampEvidence lamp = known(Lamp(find_family("filament", ""), {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}));
  const auto count = [&](Mode mode) { return *find(in(recommend(lamp, channel), mode), "surge_peak")->max_lamps; };
  const int before = count(Mode::leading_edge);
  EXPECT_EQ(before, 2);  // 4.93 A each
  channel.output.soft_start_s = 0.3;
  EXPECT_GE(count(Mode::leading_edge), 2 * before);
  EXPECT_EQ(count(Mode::on_off), before);
  EXPECT_NE(find(in(recommend(lamp, channel), Mode::leading_edge), "surge_peak")->sentence.find("soft start from cold"),
            std::string::npos);
}

}  // namespace
}  // namespace lampload::advice_constraints_test
