// check_load(): a given load of several lamp types, by hand calculation and against recommend().

#include "core/advice/load_check.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "core/error.h"

namespace lampload::advice_load_check_test {
namespace {

LampEvidence heater(double ohm) {
  LampEvidence lamp;
  lamp.name = "workshop heater";
  lamp.lamp = Lamp(find_family("resistor", ""), {ohm});
  lamp.label_dimmable = true;
  return lamp;
}

LampEvidence led() {
  LampEvidence lamp;
  lamp.name = "stair candle";
  lamp.lamp = Lamp(find_family("rectifier_capacitor", "constant_power"), {20.0, 0.0, 2e-8, 1.6, 5e-6, 1.0, 8.0});
  lamp.covariance.assign(49, 0.0);
  lamp.covariance[0] = 0.05 * 0.05;          // of the logarithm of the series resistance
  lamp.covariance[6 * 7 + 6] = 0.02 * 0.02;  // of the logarithm of the power
  lamp.identified.assign(7, true);
  lamp.label_dimmable = true;
  return lamp;
}

Channel dimmer() {
  Channel channel;
  channel.name = "clubroom dimmer";
  channel.supply.source_resistance_ohm = 0.4;
  channel.supply.source_inductance_h = 796e-6;
  channel.output.edges = {Edge::leading, Edge::trailing};
  channel.output.on_resistance_ohm = 0.1;
  channel.output.rated_current_a = 2.0;
  channel.output.repetitive_peak_current_a = 10.0;
  channel.output.surge_peak_current_a = 40.0;
  return channel;
}

const CheckedConstraint& find(const LoadCheck& check, std::string_view name) {
  const auto found = std::find_if(check.constraints.begin(), check.constraints.end(),
                                  [&](const CheckedConstraint& one) { return one.name == name; });
  EXPECT_NE(found, check.constraints.end()) << name;
  return *found;
}

// Two heaters of 529 Ohm and one of 264.5 Ohm are 132.25 Ohm; behind 0.4 Ohm, 0.25 Ohm reactive and a switch of 0.1
// Ohm.
TEST(CheckLoad, HeatersOfDifferentKindsAddUp) {
  Channel channel = dimmer();
  const std::vector<LoadItem> load{{heater(529.0), 2}, {heater(264.5), 1}};
  const LoadCheck check = check_load(load, channel, Mode::on_off);
  const CheckedConstraint& rms = find(check, "continuous_current");
  const double by_hand = 230.0 / std::hypot(132.25 + 0.5, 0.25);
  EXPECT_NEAR(rms.nominal_value, by_hand, 1e-3 * by_hand);
  EXPECT_NEAR(rms.value, 1.1 * 1.1 * by_hand, 2e-3 * by_hand);  // 10 % of supply, twice 5 % between pieces
  EXPECT_TRUE(rms.holds_nominal);
  EXPECT_FALSE(rms.holds);
  EXPECT_FALSE(check.holds);
  EXPECT_TRUE(check.holds_nominal);
  EXPECT_EQ(check.limited_by, "continuous_current");
  EXPECT_NEAR(rms.use(), rms.value / 2.0, 1e-12);
  EXPECT_NEAR(check.nominal.rms_a, by_hand, 1e-3 * by_hand);
  EXPECT_NEAR(check.nominal.inrush.peak_a, std::sqrt(2.0) * by_hand, 5e-3 * by_hand);
}

// So many of one type: the values that recommend() counts with.
TEST(CheckLoad, OneTypeIsWhatRecommendCountsWith) {
  const Channel channel = dimmer();
  const Recommendation answer = recommend(led(), channel);
  for (const ModeVerdict& verdict : answer.modes) {
    const auto with = [&](int count) {
      const std::vector<LoadItem> load{{led(), count}};
      return check_load(load, channel, verdict.mode);
    };
    const LoadCheck most = with(verdict.max_lamps);
    const LoadCheck nominal = with(verdict.max_lamps_nominal);
    EXPECT_TRUE(most.holds) << mode_name(verdict.mode);
    EXPECT_FALSE(with(verdict.max_lamps + 1).holds) << mode_name(verdict.mode);
    EXPECT_TRUE(nominal.holds_nominal) << mode_name(verdict.mode);
    EXPECT_FALSE(with(verdict.max_lamps_nominal + 1).holds_nominal) << mode_name(verdict.mode);
    for (const CheckedConstraint& one : most.constraints) {
      if (!one.minimum) {
        EXPECT_LE(one.nominal_value, one.value * 1.001) << one.name;
      }
    }
  }
}

// Splitting one type into two entries changes nothing but how far its uncertainty may go together.
TEST(CheckLoad, OneTypeInTwoEntries) {
  const Channel channel = dimmer();
  const std::vector<LoadItem> whole{{led(), 6}};
  const std::vector<LoadItem> split{{led(), 2}, {led(), 4}};
  const LoadCheck one = check_load(whole, channel, Mode::leading_edge);
  const LoadCheck two = check_load(split, channel, Mode::leading_edge);
  for (const char* name : {"continuous_current", "repetitive_peak", "surge_peak"}) {
    EXPECT_NEAR(find(one, name).nominal_value, find(two, name).nominal_value, 1e-2 * find(one, name).nominal_value);
    EXPECT_NEAR(find(one, name).value, find(two, name).value, 2e-2 * find(one, name).value);
  }
}

// Beside a heater, whose current has no harmonics, a lamp with 2 uF/W keeps none of the options of class C: the heater
// must not hide it (led_rectifiers.h has such lamps by another program's integration).
TEST(CheckLoad, HarmonicsAreThoseOfEachLampAlone) {
  LampEvidence peaky = led();
  peaky.name = "stair battery charger";
  peaky.lamp = Lamp(find_family("rectifier_capacitor", "constant_power"), {2.0, 0.0, 0.0, 1.6, 2e-5, 0.0, 10.0});
  Channel channel = dimmer();
  channel.output.rated_current_a = 10.0;
  channel.limits.harmonics = true;
  const std::vector<LoadItem> load{{heater(52.9), 3}, {peaky, 1}};
  const LoadCheck check = check_load(load, channel, Mode::on_off);
  const CheckedConstraint& harmonics = find(check, "harmonics");
  EXPECT_FALSE(harmonics.holds);
  EXPECT_FALSE(check.holds);
  EXPECT_TRUE(
      harmonics.sentence.starts_with("stair battery charger: harmonic currents of the uncut lamp, of their "
                                     "limit, is "))
      << harmonics.sentence;
  const Recommendation alone = recommend(peaky, channel);
  for (const ModeVerdict& mode : alone.modes) {
    if (mode.mode != Mode::on_off) continue;
    for (const ConstraintResult& one : mode.constraints) {
      if (one.name != "harmonics") continue;
      EXPECT_NEAR(harmonics.value, one.value, 0.01 * one.value);
    }
  }
  for (const std::string& entry : check.not_checked) EXPECT_FALSE(entry.starts_with("harmonics")) << entry;
  // heaters alone keep it
  const std::vector<LoadItem> heaters{{heater(52.9), 3}};
  EXPECT_TRUE(find(check_load(heaters, channel, Mode::on_off), "harmonics").holds);
}

TEST(CheckLoad, WhatForbidsALampIsAConstraintThatFails) {
  LampEvidence stubborn = led();
  stubborn.label_dimmable = false;
  LampEvidence tape;
  tape.name = "rack strip";
  tape.lamp = Lamp(find_family("strip", ""), {20.6, 2.2, 0.0});
  const std::vector<LoadItem> labelled{{stubborn, 1}};
  const LoadCheck dimmed = check_load(labelled, dimmer(), Mode::trailing_edge);
  EXPECT_FALSE(dimmed.holds);
  EXPECT_EQ(dimmed.limited_by, "label");
  EXPECT_EQ(find(dimmed, "label").sentence, "stair candle: the label says that the lamp is not dimmable");
  EXPECT_TRUE(check_load(labelled, dimmer(), Mode::on_off).holds);

  const std::vector<LoadItem> wrong{{led(), 1}, {tape, 1}};
  const LoadCheck fed = check_load(wrong, dimmer(), Mode::on_off);
  EXPECT_FALSE(fed.holds);
  EXPECT_EQ(fed.limited_by, "supply");
  EXPECT_EQ(
      find(fed, "supply").sentence,
      "rack strip: This lamp (strip) is fed with a constant voltage of DC; the channel gives mains. No mode of it "
      "suits, and no count was made.");
}

// A lamp that no family describes joins in proportion: 1.5 A of its own captures, 10 % of supply and twice 5 % of
// spread.
TEST(CheckLoad, AMeasuredWaveformJoinsInProportion) {
  LampEvidence strange;
  strange.name = "old fitting";
  Figures& figures = strange.measured.emplace_back();
  figures.current_rms_a = 0.3;
  figures.current_peak_a = 0.9;
  figures.active_power_w = 60.0;
  const std::vector<LoadItem> load{{heater(529.0), 1}, {strange, 2}};
  const LoadCheck check = check_load(load, dimmer(), Mode::on_off);
  EXPECT_NEAR(find(check, "continuous_current").nominal_value, 230.0 / 529.5 + 0.6, 2e-3);
  EXPECT_NEAR(find(check, "continuous_current").value, 1.21 * (230.0 / 529.5 + 0.6), 5e-3);
  EXPECT_TRUE(std::find(check.not_checked.begin(), check.not_checked.end(),
                        "surge_peak: lamp 'old fitting' has no family, and no capture shows it") !=
              check.not_checked.end());
}

// 24 V: currents side by side add up; 0.35 A: voltages in series do. Ohm's law.
TEST(CheckLoad, DirectOutputsAddUp) {
  Channel strip;
  strip.supply.tolerance_percent = 0.0;
  strip.output.kind = OutputKind::dc_pwm;
  strip.output.switch_kind = SwitchKind::mosfet;
  strip.output.supply_voltage_v = 24.0;
  strip.output.rated_current_a = 5.0;
  LampEvidence wire = heater(12.0);
  wire.spread.continuous_current.spread = 0.0;
  LampEvidence thin = heater(48.0);
  thin.spread.continuous_current.spread = 0.0;
  const std::vector<LoadItem> load{{wire, 2}, {thin, 1}};
  const LoadCheck check = check_load(load, strip, Mode::dc_pwm);
  EXPECT_NEAR(find(check, "continuous_current").value, 4.5, 1e-9);
  EXPECT_NEAR(check.worst.rms_a, 4.5, 1e-9);
  EXPECT_TRUE(check.holds);
}

TEST(CheckLoad, RefusesWhatIsNoLoadAndModesThatTheChannelLacks) {
  const auto message = [](const std::vector<LoadItem>& load, Mode mode) {
    try {
      check_load(load, dimmer(), mode);
    } catch (const Error& error) {
      return error.message();
    }
    return std::string("no error");
  };
  EXPECT_EQ(message({}, Mode::on_off), "a load needs at least one lamp");
  EXPECT_EQ(message({{heater(529.0), 0}}, Mode::on_off),
            "0 of lamp 'workshop heater' on a channel; expected 1 or more");
  EXPECT_EQ(message({{heater(529.0), 1}}, Mode::dc_pwm),
            "channel 'clubroom dimmer' cannot do dc_pwm; its modes are leading_edge, trailing_edge, on_off");
}

}  // namespace
}  // namespace lampload::advice_load_check_test
