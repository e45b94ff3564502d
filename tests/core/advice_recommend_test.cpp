// recommend() on the three kinds of channel, and the rules that hold for any of them.

#include "core/advice/recommendation.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

namespace lampload::advice_recommend_test {
namespace {

LampEvidence resistor_lamp(double ohm) {
  LampEvidence lamp;
  lamp.name = "workshop batten heater";
  lamp.lamp = Lamp(find_family("resistor", ""), {ohm});
  lamp.covariance = {0.01 * 0.01};
  lamp.lower_95 = {ohm * 0.98};
  lamp.upper_95 = {ohm * 1.02};
  lamp.identified = {true};
  lamp.label_dimmable = true;
  return lamp;
}

Channel dimmer() {
  Channel channel;
  channel.name = "clubroom dimmer";
  channel.supply.source_resistance_ohm = 0.4;
  channel.supply.source_inductance_h = 796e-6;
  channel.cable = Cable{20.0, 1.5};
  channel.breaker = Breaker{'B', 16.0};
  channel.output.edges = {Edge::leading, Edge::trailing};
  channel.output.on_resistance_ohm = 0.1;
  channel.output.rated_current_a = 2.0;
  channel.output.repetitive_peak_current_a = 10.0;
  channel.output.surge_peak_current_a = 40.0;
  channel.output.surge_i2t_a2s = 20.0;
  channel.output.di_dt_a_per_us = 50.0;
  channel.output.thermal_resistance_k_per_w = 20.0;
  channel.output.max_junction_c = 125.0;
  channel.output.ambient_c = 45.0;
  channel.output.avalanche_energy_j = 0.1;
  channel.output.min_conduction_deg = 30.0;
  channel.output.max_conduction_deg = 170.0;
  return channel;
}

Channel relay() {
  Channel channel = dimmer();
  channel.name = "changing-room relay";
  channel.output.kind = OutputKind::relay;
  channel.output.switch_kind = SwitchKind::relay;
  channel.output.edges.clear();
  channel.output.rated_current_a = 10.0;
  channel.output.thermal_resistance_k_per_w.reset();
  return channel;
}

const ConstraintResult* find(const ModeVerdict& mode, std::string_view name) {
  for (const ConstraintResult& result : mode.constraints) {
    if (result.name == name) return &result;
  }
  return nullptr;
}

TEST(Recommend, ResistorOnADimmerIsLimitedByItsRating) {
  const Recommendation answer = recommend(resistor_lamp(529.0), dimmer());
  EXPECT_TRUE(answer.mode == Mode::leading_edge || answer.mode == Mode::trailing_edge);
  EXPECT_EQ(answer.limited_by, "continuous_current");
  // 2 A over 0.4348 A a lamp, nearly fully on; with 10 % supply, 10 % spread and 2 % resistance 2 A over 0.537 A.
  EXPECT_EQ(answer.max_lamps_nominal, 4);
  EXPECT_EQ(answer.max_lamps, 3);
  EXPECT_EQ(answer.modes.size(), 3U);
  EXPECT_FALSE(answer.raise_by.empty());
}

TEST(Recommend, ResistorOnARelay) {
  const Recommendation answer = recommend(resistor_lamp(529.0), relay());
  EXPECT_EQ(answer.mode, Mode::on_off);
  EXPECT_EQ(answer.limited_by, "repetitive_peak");
  EXPECT_EQ(answer.max_lamps_nominal, 16);  // 10 A peak over 0.6149 A a lamp, less what source and cable drop
  EXPECT_EQ(answer.modes.size(), 1U);
}

// Spread counts in full for one lamp and for peaks, and averages out over the lamps for heating. By hand: a resistor of
// 529 Ohm known exactly, 230 V without tolerance, 0.4348 A a lamp, 10 % between four measured samples.
TEST(Recommend, HeatingFollowsTheMeanOfManyLamps) {
  LampEvidence lamp = resistor_lamp(529.0);
  lamp.covariance.clear();
  lamp.spread.samples = 4;
  lamp.spread.source = "measured";
  for (const char* name : {"continuous_current", "repetitive_peak", "surge_peak", "surge_i2t"})
    *lamp.spread.figure(name) = {0.1, 0.05, 0.2};
  EXPECT_NEAR(lamp.spread.of_one(lamp.spread.surge_peak), 0.1 * std::sqrt(1.25), 1e-12);
  EXPECT_NEAR(lamp.spread.of_mean(lamp.spread.continuous_current, 16), 0.1 * std::sqrt(1.0 / 4 + 1.0 / 16), 1e-12);

  Channel channel = relay();
  channel.supply.tolerance_percent = 0.0;
  channel.supply.source_resistance_ohm = 0.0;
  channel.supply.source_inductance_h = 0.0;
  channel.cable = {};
  channel.breaker.reset();
  channel.output.rated_current_a = 10.0;
  channel.output.repetitive_peak_current_a = 20.0;
  channel.output.surge_peak_current_a = 20.0;
  const Recommendation answer = recommend(lamp, channel);
  const ConstraintResult* heating = find(answer.modes.front(), "continuous_current");
  const ConstraintResult* peak = find(answer.modes.front(), "repetitive_peak");
  ASSERT_NE(heating, nullptr);
  ASSERT_NE(peak, nullptr);
  // N 0.4348 (1 + 0.2 sqrt(1/4 + 1/N)): 9.90 A with 20, 10.40 A with 21.
  EXPECT_EQ(heating->max_lamps, 20);
  // N 0.6149 (1 + 0.2 sqrt(1/4 + 1)): 19.55 A with 26, 20.31 A with 27.
  EXPECT_EQ(peak->max_lamps, 26);

  // One sample: 5 % in full, whatever the count. N 0.4348 * 1.1: 9.57 A with 20, 10.04 A with 21.
  lamp.spread = {};
  const Recommendation alone = recommend(lamp, channel);
  EXPECT_EQ(find(alone.modes.front(), "continuous_current")->max_lamps, 20);
  EXPECT_EQ(find(alone.modes.front(), "repetitive_peak")->max_lamps, 29);  // N 0.6149 * 1.1
  EXPECT_EQ(alone.spread.source, "default");
}

LampEvidence dc_lamp(const char* family, std::vector<double> values) {
  LampEvidence lamp;
  lamp.name = "boat rack light";
  lamp.lamp = Lamp(find_family(family, ""), std::move(values));
  lamp.measured.emplace_back().direct = Direct{};
  return lamp;
}

void expect_no_count(const Recommendation& answer, const std::string& sentence, const std::string& remedy) {
  EXPECT_EQ(answer.mode, Mode::none);
  EXPECT_EQ(answer.max_lamps, 0);
  EXPECT_EQ(answer.max_lamps_nominal, 0);
  EXPECT_EQ(answer.limited_by, "supply");
  EXPECT_TRUE(answer.modes.empty());
  EXPECT_EQ(answer.cautions.front(), sentence);
  EXPECT_EQ(answer.raise_by, remedy);
}

TEST(Recommend, ADcLampOnMainsGetsNoCountButTheOutputItNeeds) {
  for (const Channel& channel : {dimmer(), relay()}) {
    expect_no_count(recommend(dc_lamp("strip", {20.6, 2.2, 0.0}), channel),
                    "This lamp (strip) is fed with a constant voltage of DC; the channel gives mains. No mode of it "
                    "suits, and no count was made.",
                    "A channel whose output is dc_pwm.");
    expect_no_count(recommend(dc_lamp("emitter", {1e-25, 0.6, 2.0}), channel),
                    "This lamp (emitter) is fed with a constant current of DC; the channel gives mains. No mode of it "
                    "suits, and no count was made.",
                    "A channel whose output is dc_constant_current.");
    expect_no_count(recommend(dc_lamp("resistor", {12.0}), channel),
                    "All captures of this lamp were taken on DC; the channel gives mains. No count was made.",
                    "Captures of the lamp on mains.");
    LampEvidence unknown = dc_lamp("resistor", {12.0});
    unknown.lamp.reset();
    EXPECT_EQ(recommend(unknown, channel).max_lamps, 0);
  }
}

// A lamp for 230 V on 120 V, and the other way round, is another lamp; 208 V and 240 V are the same mains.
TEST(Recommend, ALampOfOtherMainsGetsNoCount) {
  LampEvidence lamp = resistor_lamp(529.0);
  Figures& uncut = lamp.measured.emplace_back();
  uncut.voltage_rms_v = 230.3;
  Figures& cut = lamp.measured.emplace_back();
  cut.voltage_rms_v = 120.0;
  cut.cut.edge = Edge::leading;
  Channel channel = relay();
  channel.supply.voltage_v = 120.0;
  expect_no_count(recommend(lamp, channel),
                  "This lamp was captured at 230 V; the channel gives 120 V. Whether it is made for that, and what it "
                  "does there, no capture shows. No count was made.",
                  "Captures of the lamp at about 120 V, if its label allows that.");
  channel.supply.voltage_v = 208.0;
  EXPECT_GT(recommend(lamp, channel).max_lamps, 0);
  lamp.measured = {cut};  // nothing shows the whole mains
  channel.supply.voltage_v = 230.0;
  EXPECT_GT(recommend(lamp, channel).max_lamps, 0);
}

Channel pulse_width_dimmer() {
  Channel channel;
  channel.name = "boat rack strip";
  channel.supply.tolerance_percent = 0.0;
  channel.output.kind = OutputKind::dc_pwm;
  channel.output.switch_kind = SwitchKind::mosfet;
  channel.output.supply_voltage_v = 24.0;
  return channel;
}

TEST(Recommend, ResistorsSideBySideOnAPulseWidthDimmer) {
  LampEvidence lamp = dc_lamp("resistor", {12.0});  // 2 A each at 24 V
  lamp.spread.continuous_current.spread = 0.0;
  lamp.measured[0].direct->on_voltage_v = 23.8;
  Channel channel = pulse_width_dimmer();
  channel.output.rated_current_a = 10.1;
  channel.output.on_resistance_ohm = 0.02;
  channel.output.thermal_resistance_k_per_w = 40.0;
  channel.output.max_junction_c = 125.5;
  channel.output.ambient_c = 45.0;
  Recommendation answer = recommend(lamp, channel);
  EXPECT_EQ(answer.mode, Mode::dc_pwm);
  EXPECT_EQ(answer.limited_by, "switch_temperature");  // 45 + 40 * 0.02 * (2 n)^2 <= 125.5: n = 5.02
  EXPECT_EQ(answer.max_lamps, 5);
  EXPECT_EQ(answer.confidence, "measured");
  ASSERT_NE(find(answer.modes[0], "continuous_current"), nullptr);
  EXPECT_NEAR(find(answer.modes[0], "continuous_current")->value, 10.0, 1e-9);
  EXPECT_EQ(answer.not_checked.front(), "repetitive_peak: output.repetitive_peak_current_a");

  // 10 % of supply, 5 % spread twice, 2 sd of 1 %: 2 A * 1.1 * 1.02 * 1.1 = 2.468 A
  channel.supply.tolerance_percent = 10.0;
  lamp.spread.continuous_current.spread = 0.05;
  lamp.covariance = {0.01 * 0.01};
  answer = recommend(lamp, channel);
  EXPECT_EQ(answer.max_lamps, 4);
  EXPECT_EQ(answer.max_lamps_nominal, 5);
  EXPECT_NEAR(find(answer.modes[0], "continuous_current")->value, 4.0 * 2.468, 0.01);
}

TEST(Recommend, AStripWhoseParametersAreOpenButWhoseCurrentIsKnown) {
  LampEvidence lamp = dc_lamp("strip", {20.6, 2.0, 0.0});
  const double current = lamp.lamp->family().dc_current_a(lamp.lamp->parameters(), 24.0);
  // string voltage unknown to 3 %, and the resistance with it, so that the current stays
  const double by_voltage = 0.03, by_resistance = -0.03 * 20.6 / 3.4;
  lamp.covariance = {by_voltage * by_voltage,
                     by_voltage * by_resistance,
                     0.0,
                     by_voltage * by_resistance,
                     by_resistance * by_resistance,
                     0.0,
                     0.0,
                     0.0,
                     0.0};
  lamp.spread.continuous_current.spread = 0.0;
  Channel channel = pulse_width_dimmer();
  channel.output.rated_current_a = 10.3 * current;
  EXPECT_GE(recommend(lamp, channel).max_lamps, 9);
}

TEST(Recommend, EmittersInSeriesWithinTheDriversWindow) {
  LampEvidence lamp = dc_lamp("emitter", {1.6e-26, 0.6, 2.0});
  lamp.spread.continuous_current.spread = 0.0;
  // Shockley's equation at 0.35 A
  const double volt = 2.0 * 0.35 + 0.6 * std::log1p(0.35 / 1.6e-26);
  Channel channel;
  channel.output.kind = OutputKind::dc_constant_current;
  channel.output.switch_kind = SwitchKind::mosfet;
  channel.output.current_a = 0.35;
  channel.output.compliance_min_v = 1.5 * volt;
  channel.output.compliance_max_v = 3.2 * volt;
  Recommendation answer = recommend(lamp, channel);
  EXPECT_EQ(answer.mode, Mode::dc_constant_current);
  EXPECT_EQ(answer.max_lamps, 3);
  EXPECT_EQ(answer.limited_by, "compliance");
  EXPECT_EQ(answer.confidence, "extrapolated");
  EXPECT_NEAR(answer.modes[0].constraints[0].value, 3.0 * volt, 1e-5 * volt);
  // one does not reach the least voltage, and three would be too many
  channel.output.compliance_min_v = 1.2 * volt;
  channel.output.compliance_max_v = 1.9 * volt;
  answer = recommend(lamp, channel);
  EXPECT_EQ(answer.mode, Mode::none);
  EXPECT_EQ(answer.max_lamps, 0);
  EXPECT_EQ(answer.limited_by, "compliance");
}

TEST(Recommend, ADcOutputThatDoesNotSayWhatItGivesCountsNothing) {
  Channel channel = pulse_width_dimmer();
  channel.output.supply_voltage_v.reset();
  const Recommendation answer = recommend(dc_lamp("strip", {20.6, 2.2, 0.0}), channel);
  EXPECT_EQ(answer.max_lamps, 0);
  EXPECT_EQ(answer.cautions.front(), "The channel does not say its supply_voltage_v: nothing can be counted.");
  EXPECT_EQ(answer.not_checked.front(), "dc_pwm: output.supply_voltage_v");
}

TEST(Recommend, TheOtherDcOutputDoesNotSuitEither) {
  Channel channel;
  channel.output.kind = OutputKind::dc_constant_current;
  expect_no_count(recommend(dc_lamp("strip", {20.6, 2.2, 0.0}), channel),
                  "This lamp (strip) is fed with a constant voltage of DC; the channel gives constant-current DC. No "
                  "mode of it suits, and no count was made.",
                  "A channel whose output is dc_pwm.");
  channel.output.kind = OutputKind::dc_pwm;
  LampEvidence mains;
  mains.lamp = Lamp(find_family("inductive", ""), {100.0, 0.8});
  expect_no_count(recommend(mains, channel),
                  "This lamp (inductive) is fed with mains; the channel gives DC. No mode of it suits, and no count "
                  "was made.",
                  "A channel whose output is phase_cut or relay.");
}

TEST(Recommend, NotDimmableLabelLeavesOnOff) {
  LampEvidence lamp = resistor_lamp(529.0);
  lamp.label_dimmable = false;
  const Recommendation answer = recommend(lamp, dimmer());
  EXPECT_EQ(answer.mode, Mode::on_off);
  EXPECT_EQ(answer.modes.size(), 3U);
  for (const ModeVerdict& mode : answer.modes) {
    if (mode.mode == Mode::on_off) continue;
    EXPECT_EQ(mode.max_lamps, 0);
    EXPECT_EQ(mode.limited_by, "label");
    ASSERT_NE(find(mode, "label"), nullptr);
    EXPECT_FALSE(find(mode, "label")->holds);
  }
}

TEST(Recommend, UnknownLabelIsACaution) {
  LampEvidence lamp = resistor_lamp(529.0);
  lamp.label_dimmable.reset();
  const Recommendation answer = recommend(lamp, dimmer());
  EXPECT_TRUE(std::any_of(answer.cautions.begin(), answer.cautions.end(),
                          [](const std::string& text) { return text.find("label") != std::string::npos; }));
}

TEST(Recommend, AbsentRatingsAreListed) {
  Channel channel;
  channel.output.edges = {Edge::leading, Edge::trailing};
  const Recommendation answer = recommend(resistor_lamp(529.0), channel);
  for (const char* key : {"output.rated_current_a", "output.repetitive_peak_current_a", "output.surge_peak_current_a",
                          "output.surge_i2t_a2s", "output.di_dt_a_per_us", "output.thermal_resistance_k_per_w",
                          "output.max_junction_c", "output.ambient_c", "output.avalanche_energy_j", "breaker"}) {
    EXPECT_TRUE(std::any_of(answer.not_checked.begin(), answer.not_checked.end(), [&](const std::string& entry) {
      return entry.find(key) != std::string::npos;
    })) << key;
  }
}

// A triac of 50 mA holding current needs about 6 W at 120 V (trade press); here at the middle of the interval.
TEST(Recommend, TriacAsksForAMinimumLoad) {
  Channel channel = dimmer();
  channel.output.switch_kind = SwitchKind::triac;
  channel.output.edges = {Edge::leading};
  channel.output.on_voltage_v = 1.0;
  channel.output.holding_current_a = 0.05;
  channel.output.latching_current_a = 0.06;
  const Recommendation answer = recommend(resistor_lamp(5290.0), channel);  // 10 W
  const auto leading = std::find_if(answer.modes.begin(), answer.modes.end(),
                                    [](const ModeVerdict& mode) { return mode.mode == Mode::leading_edge; });
  ASSERT_NE(leading, answer.modes.end());
  const ConstraintResult* minimum = find(*leading, "minimum_load");
  ASSERT_NE(minimum, nullptr);
  EXPECT_FALSE(minimum->max_lamps.has_value());
  EXPECT_TRUE(minimum->holds);

  channel.output.rated_current_a = 0.06;  // one lamp, which cannot hold the triac
  const Recommendation small = recommend(resistor_lamp(5290.0), channel);
  EXPECT_EQ(small.mode, Mode::on_off);
  const auto failed = std::find_if(small.modes.begin(), small.modes.end(),
                                   [](const ModeVerdict& mode) { return mode.mode == Mode::leading_edge; });
  EXPECT_EQ(failed->limited_by, "minimum_load");
}

// Fixed seed; every draw is a lamp and a channel with ratings over two decades.
TEST(Recommend, CountsKeepTheirOrderAndFollowTheRatings) {
  std::mt19937 random(17);
  std::uniform_real_distribution<double> share(0.0, 1.0);
  for (int draw = 0; draw < 6; ++draw) {
    const LampEvidence lamp = resistor_lamp(50.0 * std::pow(100.0, share(random)));
    Channel channel = dimmer();
    channel.output.rated_current_a = 0.5 * std::pow(20.0, share(random));
    channel.output.repetitive_peak_current_a = 1.0 * std::pow(20.0, share(random));
    channel.output.surge_peak_current_a = 2.0 * std::pow(20.0, share(random));
    const Recommendation answer = recommend(lamp, channel);
    for (const ModeVerdict& mode : answer.modes) {
      EXPECT_LE(mode.max_lamps, mode.max_lamps_nominal);
      for (const ConstraintResult& result : mode.constraints) {
        if (!result.max_lamps) continue;
        EXPECT_LE(*result.max_lamps, *result.max_lamps_nominal) << result.name;
        EXPECT_GE(*result.max_lamps, mode.max_lamps) << result.name;
        if (mode.max_lamps > 0) {
          EXPECT_LE(result.value, result.limit) << result.name;
        }
      }
    }
    for (std::optional<double> Output::*rating :
         {&Output::rated_current_a, &Output::repetitive_peak_current_a, &Output::surge_peak_current_a}) {
      Channel raised = channel;
      raised.output.*rating = *(raised.output.*rating) * 1.3;
      EXPECT_GE(recommend(lamp, raised).max_lamps, answer.max_lamps);
    }
  }
}

// Without a family the figures of the captures speak, in proportion to the count; what was not captured is left out.
TEST(Recommend, MeasuredWaveformOnly) {
  LampEvidence lamp;
  lamp.name = "unknown lamp";
  lamp.label_dimmable = true;
  Figures steady;
  steady.current_rms_a = 0.1;
  steady.current_peak_a = 0.5;
  steady.active_power_w = 10.0;
  steady.steady_last = 100;
  steady.inrush = Inrush{8.0, 0.02, 1e-4, 90.0};
  lamp.measured = {steady};
  const Recommendation answer = recommend(lamp, dimmer());
  EXPECT_EQ(answer.mode, Mode::on_off);
  EXPECT_EQ(answer.limited_by, "surge_peak");
  EXPECT_EQ(answer.max_lamps_nominal, 5);
  EXPECT_EQ(answer.max_lamps, 4);
  EXPECT_EQ(answer.modes.size(), 1U);
  EXPECT_NE(answer.modes[0].constraints[0].sentence.find("measured waveform only"), std::string::npos);
}

}  // namespace
}  // namespace lampload::advice_recommend_test
