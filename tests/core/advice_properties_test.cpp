// What holds for any lamp on any channel, and what the trade knows to hold for kinds of lamps.

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <optional>
#include <random>
#include <set>
#include <string>
#include <utility>

#include "core/advice/load.h"
#include "core/advice/load_check.h"

namespace lampload::advice_properties_test {
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

enum class Kind { dimmer, triac, relay };

Channel random_channel(std::mt19937& random, Kind kind) {
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
  output.off_leakage_a = between(0.05e-3, 2e-3);
  channel.limits.ghosting_percent = between(0.01, 1.0);
  channel.limits.harmonics = kind == Kind::triac;
  if (kind == Kind::relay) {
    output.kind = OutputKind::relay;
    output.switch_kind = SwitchKind::relay;
    output.contact_make_a = between(20.0, 200.0);
    output.contact_bounce_s = between(0.5e-3, 5e-3);
    output.contact_operations = 30'000.0;
    output.zero_cross_turn_on = share(random) < 0.5;
    channel.limits.operations = between(10'000.0, 200'000.0);
  } else {
    output.edges = {Edge::leading};
    output.on_resistance_ohm = between(0.05, 0.3);
    output.thermal_resistance_k_per_w = between(5.0, 40.0);
    output.max_junction_c = 150.0;
    output.ambient_c = 50.0;
    output.derate_from_c = 40.0;
    output.choke_h = between(20e-6, 300e-6);
    output.pulse_10ms_k_per_w = between(0.1, 2.0);
    output.min_conduction_deg = 40.0;
    output.max_conduction_deg = 160.0;
    channel.limits.lamp_stress_factor = between(1.5, 6.0);
    if (share(random) < 0.5) output.soft_start_s = 0.1;
  }
  if (kind == Kind::triac) {
    output.switch_kind = SwitchKind::triac;
    output.on_voltage_v = 1.0;
    output.holding_current_a = between(5e-3, 50e-3);
    output.latching_current_a = between(10e-3, 100e-3);
    output.gate_pulse_s = between(20e-6, 500e-6);
    if (share(random) < 0.7) {
      output.neutral = false;
      output.two_wire_supply_a = between(1e-3, 20e-3);
    }
  } else if (kind == Kind::dimmer) {
    output.switch_kind = share(random) < 0.5 ? SwitchKind::mosfet_pair : SwitchKind::bridge_mosfet;
    output.edges.push_back(Edge::trailing);
    output.avalanche_energy_j = between(0.02, 0.5);
    output.clamp_voltage_v = 600.0;
    output.edge_time_s = between(1e-6, 100e-6);
    output.zero_cross_sense_v = between(5.0, 40.0);
  }
  channel.limits.voltage_drop_percent = between(1.0, 5.0);
  return channel;
}

/// Makes one rating better; false where the channel does not have it.
using Raise = std::pair<const char*, std::function<bool(Channel&)>>;

std::vector<Raise> raises() {
  std::vector<Raise> all;
  const auto scale = [](std::optional<double>& rating, double factor) {
    if (rating) *rating *= factor;
    return rating.has_value();
  };
  const auto output = [&](const char* name, std::optional<double> Output::*rating, double factor = 1.25) {
    all.emplace_back(name, [=](Channel& channel) { return scale(channel.output.*rating, factor); });
  };
  const auto limit = [&](const char* name, std::optional<double> Limits::*rating, double factor = 1.25) {
    all.emplace_back(name, [=](Channel& channel) { return scale(channel.limits.*rating, factor); });
  };
  output("rated_current_a", &Output::rated_current_a);
  output("repetitive_peak_current_a", &Output::repetitive_peak_current_a);
  output("surge_peak_current_a", &Output::surge_peak_current_a);
  output("surge_i2t_a2s", &Output::surge_i2t_a2s);
  output("di_dt_a_per_us", &Output::di_dt_a_per_us);
  output("max_junction_c", &Output::max_junction_c);
  output("derate_from_c", &Output::derate_from_c);
  output("thermal_resistance_k_per_w", &Output::thermal_resistance_k_per_w, 0.8);
  output("pulse_10ms_k_per_w", &Output::pulse_10ms_k_per_w, 0.8);
  output("avalanche_energy_j", &Output::avalanche_energy_j);
  output("zero_cross_sense_v", &Output::zero_cross_sense_v, 2.0);
  output("off_leakage_a", &Output::off_leakage_a, 0.5);
  output("holding_current_a", &Output::holding_current_a, 0.5);
  output("latching_current_a", &Output::latching_current_a, 0.5);
  output("two_wire_supply_a", &Output::two_wire_supply_a, 0.5);
  output("contact_make_a", &Output::contact_make_a);
  output("contact_operations", &Output::contact_operations);
  limit("operations", &Limits::operations, 0.5);
  limit("voltage_drop_percent", &Limits::voltage_drop_percent);
  limit("lamp_stress_factor", &Limits::lamp_stress_factor, 1.5);
  limit("ghosting_percent", &Limits::ghosting_percent, 3.0);
  all.emplace_back("harmonics",
                   [](Channel& channel) { return std::exchange(channel.limits.harmonics, false).value(); });
  all.emplace_back("breaker", [](Channel& channel) { return (channel.breaker->rating_a *= 1.25) > 0.0; });
  all.emplace_back("cable", [](Channel& channel) { return (*channel.cable->rated_current_a *= 1.25) > 0.0; });
  return all;
}

void expect_not_fewer(const Recommendation& before, const Recommendation& after, const std::string& label) {
  for (const ModeVerdict& mode : before.modes) {
    const auto there = std::find_if(after.modes.begin(), after.modes.end(),
                                    [&](const ModeVerdict& other) { return other.mode == mode.mode; });
    ASSERT_NE(there, after.modes.end());
    EXPECT_GE(there->max_lamps, mode.max_lamps) << label << " " << mode_name(mode.mode);
    EXPECT_GE(there->max_lamps_nominal, mode.max_lamps_nominal) << label << " " << mode_name(mode.mode);
  }
}

void expect_conservative(const Recommendation& answer, const std::string& label) {
  for (const ModeVerdict& mode : answer.modes) {
    EXPECT_LE(mode.max_lamps, mode.max_lamps_nominal) << label << " " << mode_name(mode.mode);
    for (const ConstraintResult& one : mode.constraints) {
      if (!one.max_lamps) continue;
      EXPECT_LE(*one.max_lamps, *one.max_lamps_nominal) << label << " " << one.name;
    }
  }
}

// Nine drawn channels; over all of them every rating of each kind of output gets raised.
TEST(AnyChannel, ConservativeCountsAreNotAboveNominalOnesAndRatingsOnlyHelp) {
  std::mt19937 random(2024);
  const std::vector<Raise> all = raises();
  const std::array lamps = {filament(), led(), Lamp(find_family("resistor", ""), {529.0}), winding()};
  std::set<std::string> raised;
  for (std::size_t draw = 0; draw < 9; ++draw) {
    const Channel channel = random_channel(random, static_cast<Kind>(draw % 3));
    const LampEvidence lamp = known(lamps[draw % lamps.size()]);
    const Recommendation answer = recommend(lamp, channel);
    expect_conservative(answer, std::to_string(draw));
    for (std::size_t i = (draw / 3) % 3; i < all.size(); i += 3) {
      Channel better = channel;
      if (!all[i].second(better)) continue;
      raised.insert(all[i].first);
      expect_not_fewer(answer, recommend(lamp, better), std::to_string(draw) + " " + all[i].first);
    }
  }
  for (const Raise& one : all) EXPECT_TRUE(raised.contains(one.first)) << one.first;
}

// The same of DC outputs, which are closed forms.
TEST(AnyChannel, DcRatingsOnlyHelp) {
  std::mt19937 random(99);
  std::uniform_real_distribution<double> share(0.0, 1.0);
  const auto between = [&](double low, double high) { return low * std::pow(high / low, share(random)); };
  const LampEvidence tape = known({find_family("strip", ""), {20.6, 1.1, 1e-6}});
  const LampEvidence chain = known({find_family("emitter", ""), {1e-18, 0.25, 1.0}});
  for (int draw = 0; draw < 20; ++draw) {
    Channel channel;
    channel.cable = Cable{between(2.0, 40.0), between(0.5, 4.0)};
    channel.limits.voltage_drop_percent = between(1.0, 8.0);
    Output& output = channel.output;
    const bool pulses = draw % 2 == 0;
    output.kind = pulses ? OutputKind::dc_pwm : OutputKind::dc_constant_current;
    output.switch_kind = SwitchKind::mosfet;
    output.supply_voltage_v = 24.0;
    output.current_a = between(0.2, 1.0);
    output.rated_current_a = between(1.0, 20.0);
    output.repetitive_peak_current_a = between(1.0, 40.0);
    output.on_resistance_ohm = between(5e-3, 0.1);
    output.thermal_resistance_k_per_w = between(5.0, 60.0);
    output.max_junction_c = 125.0;
    output.ambient_c = 45.0;
    output.edge_time_s = between(0.1e-6, 10e-6);
    output.pwm_hz = between(200.0, 4000.0);
    output.min_duty_percent = between(0.1, 5.0);
    output.compliance_min_v = between(2.0, 20.0);
    output.compliance_max_v = between(25.0, 150.0);
    const LampEvidence& lamp = pulses ? tape : chain;
    const Recommendation answer = recommend(lamp, channel);
    expect_conservative(answer, std::to_string(draw));
    const auto better = [&](const char* name, std::optional<double> Output::*rating, double factor) {
      Channel other = channel;
      *(other.output.*rating) *= factor;
      expect_not_fewer(answer, recommend(lamp, other), std::to_string(draw) + " " + name);
    };
    better("rated_current_a", &Output::rated_current_a, 1.25);
    better("repetitive_peak_current_a", &Output::repetitive_peak_current_a, 1.25);
    better("max_junction_c", &Output::max_junction_c, 1.25);
    better("thermal_resistance_k_per_w", &Output::thermal_resistance_k_per_w, 0.8);
    better("min_duty_percent", &Output::min_duty_percent, 1.25);
    better("compliance_max_v", &Output::compliance_max_v, 1.25);
    better("compliance_min_v", &Output::compliance_min_v, 0.5);
  }
}

bool at_reservoir(const Lamp& lamp) {
  return index_of(lamp.family().states, reservoir_state) < lamp.family().states.size();
}

// Every value of every constraint at the same operating point: one lamp more takes it towards its limit, or, where
// lamps make it easier, not away from keeping it. Within what the simulation resolves.
TEST(AnyChannel, OneLampMoreNeverRaisesAMargin) {
  std::mt19937 random(7);
  for (const Lamp& lamp : {filament(), led(), winding(), dropper()}) {
    for (const Kind kind : {Kind::dimmer, Kind::triac, Kind::relay}) {
      if (!lamp.family().harmed_by_cuts.empty() && kind != Kind::relay) continue;
      const Channel channel = random_channel(random, kind);
      std::vector<Mode> modes = {Mode::on_off};
      if (kind != Kind::relay) modes = {Mode::leading_edge};
      if (kind == Kind::dimmer) modes.push_back(Mode::trailing_edge);
      for (const Mode mode : modes) {
        Missing missing;
        Load load(channel, mode, {{230.0}, mixes_of({&lamp, 1}), {}});
        for (const Constraint& constraint : constraints_of(channel, mode, missing)) {
          const std::vector<double>& settings = !constraint.at_deg.empty() ? constraint.at_deg
                                                : constraint.of_turn_on    ? load.phases_deg()
                                                                           : load.angles_deg();
          const Situation at{0, 0, settings[settings.size() / 2]};
          // the pulse of a reservoir behind a choke rings, now higher and now lower at the end of a gate pulse
          if (constraint.minimum && at_reservoir(lamp)) continue;
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

// One lamp more of another kind beside others. Not windings beside capacitors: their currents cancel, and the load may
// well get less. What gets easier with more lamps is looked at by lamp_stress and ghosting themselves. Within what the
// simulation resolves.
TEST(AnyChannel, AnotherKindOfLampNeverRaisesAMargin) {
  std::mt19937 random(31);
  const std::array lamps = {filament(), led(), Lamp(find_family("resistor", ""), {529.0}),
                            Lamp(find_family("linear_driver", "one_tap"), {1.6, 0.0, 1e6, 210.0, 0.03})};
  for (std::size_t draw = 0; draw < 3; ++draw) {
    Channel channel = random_channel(random, static_cast<Kind>(draw));
    channel.output.min_conduction_deg = 60.0;
    channel.output.max_conduction_deg = 120.0;
    const Mode mode = draw == 2 ? Mode::on_off : Mode::leading_edge;
    std::vector<LoadItem> load = {{known(lamps[draw]), 3}};
    LoadCheck before = check_load(load, channel, mode);
    for (const std::size_t more : {draw + 1, (draw + 2) % lamps.size()}) {
      load.push_back({known(lamps[more]), 1});
      const LoadCheck after = check_load(load, channel, mode);
      ASSERT_EQ(after.constraints.size(), before.constraints.size());
      for (std::size_t i = 0; i < before.constraints.size(); ++i) {
        const CheckedConstraint& one = before.constraints[i];
        if (one.minimum || one.advice || one.name == "ghosting" || one.name == "lamp_stress") continue;
        EXPECT_GE(after.constraints[i].nominal_value, 0.97 * one.nominal_value)
            << draw << " " << one.name << " " << more;
      }
      before = after;
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

// Trailing edge for resistive and capacitive loads, leading edge for resistive and inductive ones: the load letters of
// dimmer standards (from memory, unverified), common practice, no source.
TEST(Trade, ReservoirLampsGetATrailingEdge) {
  EXPECT_EQ(recommend(known(led()), universal()).mode, Mode::trailing_edge);
}

// A film capacitor passes every jump of the voltage: no phase cut (a component's application text and common practice;
// docs/models/capacitive_dropper.md has the surge by formula).
TEST(Trade, CapacitiveDroppersAreSwitchedOnAndOffAlone) {
  const Recommendation answer = recommend(known(dropper()), universal());
  EXPECT_EQ(answer.mode, Mode::on_off);
  EXPECT_GE(answer.max_lamps, 1);
  for (const ModeVerdict& mode : answer.modes) {
    if (mode.mode == Mode::on_off) continue;
    EXPECT_EQ(mode.max_lamps, 0) << mode_name(mode.mode);
    EXPECT_EQ(mode.max_lamps_nominal, 0) << mode_name(mode.mode);
    EXPECT_EQ(mode.limited_by, "phase_cut") << mode_name(mode.mode);
  }
  EXPECT_TRUE(std::any_of(answer.cautions.begin(), answer.cautions.end(), [](const std::string& text) {
    return text.starts_with("The label says dimmable, and the circuit found (capacitive_dropper) is one that no phase");
  }));
  // what the sentence rests on: either edge makes the lamp's peak many times that of the uncut lamp
  const Path path = path_of(universal(), 230.0);
  const LampGroup one{dropper(), 1};
  const double uncut_a = DrivenChannel(path, std::span(&one, 1)).steady({}).peak_a;
  for (const Drive drive : {Drive::leading_edge, Drive::trailing_edge}) {
    EXPECT_GT(DrivenChannel(path, std::span(&one, 1)).steady({drive, 100.0}).peak_a, 10.0 * uncut_a);
  }
  // in a mixed load too
  const std::vector<LoadItem> load = {{known(filament()), 2}, {known(dropper()), 1}};
  const LoadCheck dimmed = check_load(load, universal(), Mode::trailing_edge);
  EXPECT_FALSE(dimmed.holds);
  EXPECT_EQ(dimmed.limited_by, "phase_cut");
  EXPECT_TRUE(check_load(load, universal(), Mode::on_off).holds);
}

// Cutting the current of a winding makes a voltage L di/dt (any textbook on circuits); the rest as above.
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
}  // namespace lampload::advice_properties_test
