// What holds for any lamp on any channel, and what the trade knows to hold for kinds of lamps.

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <random>
#include <string>

#include "core/advice/load.h"

namespace lampload {
namespace {

LampEvidence known(Lamp lamp) {
  LampEvidence evidence;
  evidence.name = "boathouse lamp";
  evidence.label_dimmable = true;
  evidence.lamp = std::move(lamp);
  return evidence;
}

/// 100 W at 230 V.
Lamp filament() { return {find_family("filament", ""), {40.0, 1.25e-12, 3.5e-3, 0.0, 0.0, 0.0}}; }
/// 5 W, behind 22 Ohm.
Lamp led() { return {find_family("rectifier_capacitor", "constant_power"), {22.0, 0.0, 0.0, 1.6, 4.7e-6, 0.0, 5.0}}; }
Lamp winding() { return {find_family("inductive", ""), {60.0, 0.6}}; }
Lamp dropper() { return {find_family("capacitive_dropper", ""), {330e-9, 100.0, 1e6, 1.6, 10e-6, 60.0, 300.0}}; }

Channel supplied() {
  Channel channel;
  channel.supply.source_resistance_ohm = 0.4;
  channel.supply.source_inductance_h = 796e-6;
  channel.cable = Cable{20.0, 1.5};
  return channel;
}

Channel random_channel(std::mt19937& random, bool relay) {
  std::uniform_real_distribution<double> share(0.0, 1.0);
  const auto between = [&](double low, double high) { return low * std::pow(high / low, share(random)); };
  Channel channel = supplied();
  channel.breaker = Breaker{"BCD"[random() % 3], between(6.0, 32.0)};
  channel.cable->rated_current_a = between(5.0, 30.0);
  channel.cable->shared_neutral = share(random) < 0.5;
  Output& output = channel.output;
  output.rated_current_a = between(0.5, 8.0);
  output.repetitive_peak_current_a = between(5.0, 80.0);
  output.surge_peak_current_a = between(20.0, 200.0);
  output.surge_i2t_a2s = between(1.0, 100.0);
  output.di_dt_a_per_us = between(5.0, 100.0);
  if (relay) {
    output.kind = OutputKind::relay;
    output.switch_kind = SwitchKind::relay;
    output.contact_make_a = between(20.0, 200.0);
    output.contact_bounce_s = between(0.5e-3, 5e-3);
    output.contact_operations = 30'000.0;
    output.zero_cross_turn_on = share(random) < 0.5;
    channel.limits.operations = between(10'000.0, 200'000.0);
  } else {
    output.switch_kind = share(random) < 0.5 ? SwitchKind::mosfet_pair : SwitchKind::bridge_mosfet;
    output.edges = {Edge::leading, Edge::trailing};
    output.on_resistance_ohm = between(0.05, 0.3);
    output.thermal_resistance_k_per_w = between(5.0, 40.0);
    output.max_junction_c = 150.0;
    output.ambient_c = 50.0;
    output.derate_from_c = 40.0;
    output.avalanche_energy_j = between(0.02, 0.5);
    output.clamp_voltage_v = 600.0;
    output.choke_h = between(20e-6, 300e-6);
    output.edge_time_s = between(1e-6, 100e-6);
    output.pulse_10ms_k_per_w = between(0.1, 2.0);
    output.min_conduction_deg = 40.0;
    output.max_conduction_deg = 160.0;
    if (share(random) < 0.5) output.soft_start_s = 0.1;
  }
  channel.limits.voltage_drop_percent = between(1.0, 5.0);
  return channel;
}

using Raise = std::pair<const char*, std::function<void(Channel&)>>;

std::vector<Raise> raises() {
  std::vector<Raise> all;
  const auto output = [&](const char* name, std::optional<double> Output::*rating) {
    all.emplace_back(name, [rating](Channel& channel) {
      if (channel.output.*rating) *(channel.output.*rating) *= 1.25;
    });
  };
  output("rated_current_a", &Output::rated_current_a);
  output("repetitive_peak_current_a", &Output::repetitive_peak_current_a);
  output("surge_peak_current_a", &Output::surge_peak_current_a);
  output("surge_i2t_a2s", &Output::surge_i2t_a2s);
  output("di_dt_a_per_us", &Output::di_dt_a_per_us);
  output("max_junction_c", &Output::max_junction_c);
  output("avalanche_energy_j", &Output::avalanche_energy_j);
  output("contact_make_a", &Output::contact_make_a);
  output("contact_operations", &Output::contact_operations);
  all.emplace_back("breaker", [](Channel& channel) { channel.breaker->rating_a *= 1.25; });
  all.emplace_back("cable", [](Channel& channel) { *channel.cable->rated_current_a *= 1.25; });
  all.emplace_back("voltage_drop", [](Channel& channel) { *channel.limits.voltage_drop_percent *= 1.25; });
  return all;
}

// Six drawn channels, every third of twelve ratings raised on each.
TEST(AnyChannel, ConservativeCountsAreNotAboveNominalOnesAndRatingsOnlyHelp) {
  std::mt19937 random(2024);
  const std::vector<Raise> all = raises();
  const std::array lamps = {filament(), led(), Lamp(find_family("resistor", ""), {529.0}), winding()};
  for (std::size_t draw = 0; draw < 6; ++draw) {
    const Channel channel = random_channel(random, draw % 3 == 2);
    const LampEvidence lamp = known(lamps[draw % lamps.size()]);
    const Recommendation answer = recommend(lamp, channel);
    for (const ModeVerdict& mode : answer.modes) {
      EXPECT_LE(mode.max_lamps, mode.max_lamps_nominal) << draw;
      for (const ConstraintResult& one : mode.constraints) {
        if (!one.max_lamps) continue;
        EXPECT_LE(*one.max_lamps, *one.max_lamps_nominal) << draw << " " << one.name;
      }
    }
    for (std::size_t i = draw % 3; i < all.size(); i += 3) {
      Channel better = channel;
      all[i].second(better);
      const Recommendation raised = recommend(lamp, better);
      for (const ModeVerdict& before : answer.modes) {
        const auto after = std::find_if(raised.modes.begin(), raised.modes.end(),
                                        [&](const ModeVerdict& mode) { return mode.mode == before.mode; });
        ASSERT_NE(after, raised.modes.end());
        EXPECT_GE(after->max_lamps, before.max_lamps) << draw << " " << all[i].first << " " << mode_name(before.mode);
        EXPECT_GE(after->max_lamps_nominal, before.max_lamps_nominal) << draw << " " << all[i].first;
      }
    }
  }
}

// Every value of every constraint at the same operating point: one lamp more takes it towards its limit, or, where
// lamps make it easier, not away from keeping it. Within what the simulation resolves.
TEST(AnyChannel, OneLampMoreNeverRaisesAMargin) {
  std::mt19937 random(7);
  for (const Lamp& lamp : {filament(), led(), winding(), dropper()}) {
    for (const bool relay : {false, true}) {
      Channel channel = random_channel(random, relay);
      channel.output.off_leakage_a = 1e-3;
      std::vector<Mode> modes = {Mode::on_off};
      if (!relay) modes = {Mode::leading_edge, Mode::trailing_edge};
      for (const Mode mode : modes) {
        Missing missing;
        Load load(channel, mode, {{230.0}, mixes_of({&lamp, 1}), {}});
        for (const Constraint& constraint : constraints_of(channel, mode, missing)) {
          const std::vector<double>& settings = !constraint.at_deg.empty() ? constraint.at_deg
                                                : constraint.of_turn_on    ? load.phases_deg()
                                                                           : load.angles_deg();
          const Situation at{0, 0, settings[settings.size() / 2]};
          double before = load.value(constraint, 1, at);
          for (const int count : {2, 3, 6, 7}) {
            const double value = load.value(constraint, count, at);
            const double slack = 0.04 * std::abs(before) + 1e-3 * constraint.limit;
            const std::string label = std::string(lamp.family().name) + " " + mode_name(mode) + " " + constraint.name;
            if (constraint.eases) {
              EXPECT_LE(value, before + slack) << label << " " << count;
            } else {
              EXPECT_GE(value, before - slack) << label << " " << count;
            }
            before = value;
          }
        }
      }
    }
  }
}

/// A dimmer for both edges with ratings of its kind.
Channel universal() {
  Channel channel = supplied();
  channel.output.edges = {Edge::leading, Edge::trailing};
  channel.output.on_resistance_ohm = 0.1;
  channel.output.rated_current_a = 2.0;
  channel.output.repetitive_peak_current_a = 10.0;
  channel.output.surge_peak_current_a = 60.0;
  channel.output.avalanche_energy_j = 0.1;
  channel.output.clamp_voltage_v = 600.0;
  channel.output.choke_h = 50e-6;
  channel.output.min_conduction_deg = 45.0;
  channel.output.max_conduction_deg = 160.0;
  return channel;
}

TEST(Trade, ReservoirLampsGetATrailingEdge) {
  EXPECT_EQ(recommend(known(led()), universal()).mode, Mode::trailing_edge);
}

TEST(Trade, WindingsGetALeadingEdgeOrOnAndOff) {
  const Recommendation answer = recommend(known(winding()), universal());
  EXPECT_TRUE(answer.mode == Mode::leading_edge || answer.mode == Mode::on_off) << mode_name(answer.mode);
  const auto cut = std::find_if(answer.modes.begin(), answer.modes.end(),
                                [](const ModeVerdict& mode) { return mode.mode == Mode::trailing_edge; });
  EXPECT_EQ(cut->max_lamps, 0);
  EXPECT_EQ(cut->limited_by, "turn_off_energy");
}

// The LED load that a triac dimmer takes is a third down to a tenth of its filament load (common practice, no source).
TEST(Trade, ATriacTakesAFractionOfItsFilamentLoadInLeds) {
  Channel channel = supplied();
  channel.output.edges = {Edge::leading};
  channel.output.switch_kind = SwitchKind::triac;
  channel.output.on_voltage_v = 0.95;
  channel.output.on_resistance_ohm = 0.05;
  channel.output.rated_current_a = 1.3;
  channel.output.repetitive_peak_current_a = 8.0;
  channel.output.surge_peak_current_a = 80.0;
  channel.output.di_dt_a_per_us = 50.0;
  channel.output.choke_h = 100e-6;
  channel.output.min_conduction_deg = 35.0;
  channel.output.max_conduction_deg = 150.0;
  const auto load_w = [&](const Lamp& lamp, double watt) {
    const Recommendation answer = recommend(known(lamp), channel);
    for (const ModeVerdict& mode : answer.modes) {
      if (mode.mode == Mode::leading_edge) return watt * mode.max_lamps_nominal;
    }
    return 0.0;
  };
  const double filaments_w = load_w(filament(), 100.0);
  const double leds_w = load_w(led(), 5.0);
  RecordProperty("share", std::to_string(leds_w / filaments_w));
  EXPECT_LT(leds_w / filaments_w, 0.34);
  EXPECT_GT(leds_w / filaments_w, 0.09);
}

}  // namespace
}  // namespace lampload
