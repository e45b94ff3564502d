#include "tests/channels/pairs.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <stdexcept>

#include "tests/channels/channel_circuit.h"

namespace lampload::test {
namespace {

/// Pieces all alike, parameters known exactly, so that worst and nominal differ by the supply alone.
LampEvidence known(std::string name, std::string_view family, std::string_view law, std::vector<double> values) {
  LampEvidence lamp;
  lamp.name = std::move(name);
  lamp.lamp = Lamp(find_family(family, law), std::move(values));
  lamp.label_dimmable = true;
  for (const char* figure : {"continuous_current", "repetitive_peak", "surge_peak", "surge_i2t"}) {
    lamp.spread.figure(figure)->spread = 0.0;
  }
  return lamp;
}

std::vector<LampEvidence> lamps_230v() {
  return {
      known("heater", "resistor", "", {529.0}),
      known("pendant 60 W", "filament", "", {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}),
      known("candle 28 W", "filament", "", {135.0, 4.6e-13, 7e-4, 0.5, 0.0, 0.0}),
      known("LED 8 W", "rectifier_capacitor", "constant_power", {20.0, 0.0, 2e-8, 1.6, 5e-6, 1.0, 8.0}),
      known("LED 15 W choked", "rectifier_capacitor", "constant_power", {8.0, 1e-3, 4.7e-8, 1.6, 1e-5, 0.5, 15.0}),
      known("LED linear", "rectifier_capacitor", "constant_current", {33.0, 0.0, 1e-8, 1.6, 4.7e-6, 2.0, 0.03}),
      known("LED string", "rectifier_capacitor", "led_string", {15.0, 0.0, 4.7e-8, 1.6, 4.7e-6, 1.0, 200.0, 1500.0}),
      known("dropper", "capacitive_dropper", "", {3.3e-7, 220.0, 1e6, 1.6, 2.2e-6, 90.0, 600.0}),
      known("fan", "inductive", "", {120.0, 0.8}),
      known("transformer", "inductive", "transformer", {25.0, 0.02, 4.0, 900.0, 0.0}),
      known("one tap", "linear_driver", "one_tap", {1.6, 1e-8, 1e6, 210.0, 0.03}),
      known("two taps", "linear_driver", "two_taps", {1.6, 1e-8, 4e5, 140.0, 0.02, 260.0, 0.045}),
      known("three taps", "linear_driver", "three_taps", {1.6, 1e-8, 1e6, 90.0, 0.02, 180.0, 0.04, 260.0, 0.06}),
      known("four taps", "linear_driver", "four_taps",
            {1.6, 1e-8, 1e6, 70.0, 0.02, 140.0, 0.04, 210.0, 0.06, 270.0, 0.05}),
      known("corrected 15 W", "corrected_driver", "", {6e-4, 1.5e-7, 6.0, 12.0, 15.0, 0.01}),
  };
}

std::vector<LampEvidence> lamps_120v() {
  return {
      known("pendant 60 W 120 V", "filament", "", {18.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}),
      known("LED 9 W 120 V", "rectifier_capacitor", "constant_power", {6.8, 0.0, 2.2e-8, 1.6, 1.5e-5, 0.5, 9.0}),
      known("LED string 120 V", "rectifier_capacitor", "led_string", {4.7, 0.0, 1e-8, 1.6, 1e-5, 0.5, 100.0, 350.0}),
  };
}

Channel mains(double voltage_v = 230.0, double frequency_hz = 50.0) {
  Channel channel;
  channel.supply.voltage_v = voltage_v;
  channel.supply.frequency_hz = frequency_hz;
  channel.supply.source_resistance_ohm = 0.4;  // IEC TR 60725 reference impedance
  channel.supply.source_inductance_h = 796e-6;
  channel.cable = Cable{20.0, 1.5};
  channel.output.min_conduction_deg = 40.0;
  channel.output.max_conduction_deg = 150.0;
  return channel;
}

Channel mosfet_pair() {
  Channel channel = mains();
  channel.name = "MOSFET pair";
  channel.output.edges = {Edge::leading, Edge::trailing};
  channel.output.on_resistance_ohm = 0.1;
  return channel;
}

Channel triac() {
  Channel channel = mains();
  channel.name = "triac, choke, snubber";
  channel.output.switch_kind = SwitchKind::triac;
  channel.output.edges = {Edge::leading};
  channel.output.on_resistance_ohm = 0.05;
  channel.output.on_voltage_v = 1.0;
  channel.output.holding_current_a = 0.02;
  channel.output.choke_h = 1.5e-3;
  channel.output.snubber_f = 47e-9;
  channel.output.snubber_ohm = 220.0;
  return channel;
}

Channel bridge_mosfet() {
  Channel channel = mains();
  channel.name = "bridge, choke";
  channel.output.switch_kind = SwitchKind::bridge_mosfet;
  channel.output.edges = {Edge::leading, Edge::trailing};
  channel.output.on_resistance_ohm = 0.1;
  channel.output.on_voltage_v = 0.7;
  channel.output.choke_h = 200e-6;
  return channel;
}

/// Without a choke and close to the board: with more inductance the rate of rise hardly depends on the lamps.
Channel stiff() {
  Channel channel = mosfet_pair();
  channel.name = "MOSFET pair, stiff supply";
  channel.supply.source_resistance_ohm = 0.1;
  channel.supply.source_inductance_h = 20e-6;
  channel.cable = Cable{3.0, 1.5};
  return channel;
}

Channel relay() {
  Channel channel = mains();
  channel.name = "relay";
  channel.supply.source_resistance_ohm = 0.2;
  channel.supply.source_inductance_h = 200e-6;
  channel.output.kind = OutputKind::relay;
  channel.output.switch_kind = SwitchKind::relay;
  channel.output.on_resistance_ohm = 0.01;
  return channel;
}

/// Gives the channel the one rating that the constraint asks for.
void rate(Channel& channel, const std::string& constraint, double limit) {
  Output& output = channel.output;
  if (constraint == "continuous_current") output.rated_current_a = limit;
  if (constraint == "repetitive_peak") output.repetitive_peak_current_a = limit;
  if (constraint == "current_rise") output.di_dt_a_per_us = limit;
  if (constraint == "surge_peak") output.surge_peak_current_a = limit;
  if (constraint == "surge_i2t") output.surge_i2t_a2s = limit;
  if (constraint == "turn_off_energy") output.avalanche_energy_j = limit;
  if (constraint == "compliance") output.compliance_max_v = limit;
  if (constraint == "switch_temperature") {
    output.ambient_c = 40.0;
    output.thermal_resistance_k_per_w = 20.0;
    output.max_junction_c = limit;
  }
}

std::vector<LoadItem> load_of(const Pair& pair, int count) {
  std::vector<LoadItem> load = pair.fixed;
  load.push_back({pair.lamp, count});
  return load;
}

const CheckedConstraint& find(const LoadCheck& check, const std::string& name) {
  const auto found = std::find_if(check.constraints.begin(), check.constraints.end(),
                                  [&](const CheckedConstraint& one) { return one.name == name; });
  if (found == check.constraints.end()) throw std::runtime_error("no constraint " + name);
  return *found;
}

/// Two fifths of the way from what about so many lamps come to, to what one more does, in three digits.
double limit_for(Pair pair) {
  const int count = pair.about;
  rate(pair.channel, pair.constraint, 100.0);
  const auto with = [&](int n) {
    return find(check_load(load_of(pair, n), pair.channel, pair.mode), pair.constraint).nominal_value;
  };
  const double limit = std::lerp(with(count), with(count + 1), 0.4);
  const double digit = std::pow(10.0, std::floor(std::log10(limit)) - 2.0);
  return digit * std::round(limit / digit);
}

class List {
 public:
  void add(const Channel& channel, const LampEvidence& lamp, Mode mode, const std::string& constraint, int count,
           std::vector<LoadItem> fixed = {}) {
    Pair pair{"", channel, std::move(fixed), lamp, mode, constraint, count};
    pair.name = lamp.name;
    for (const LoadItem& item : pair.fixed) pair.name += fmt::format(" beside {} {}", item.count, item.evidence.name);
    pair.name += fmt::format(", {}, {}, {}", channel.name, mode_name(mode), constraint);
    pairs.push_back(std::move(pair));
  }

  std::vector<Pair> pairs;
};

void add_families(List& list) {
  constexpr std::array<const char*, 4> leading = {"repetitive_peak", "current_rise", "continuous_current",
                                                  "switch_temperature"};
  constexpr std::array<const char*, 4> trailing = {"continuous_current", "turn_off_energy", "repetitive_peak",
                                                   "switch_temperature"};
  constexpr std::array<const char*, 4> on_off = {"surge_peak", "surge_i2t", "continuous_current", "surge_peak"};
  const std::array<Channel, 3> cutters = {mosfet_pair(), triac(), bridge_mosfet()};
  const std::vector<LampEvidence> lamps = lamps_230v();
  for (std::size_t k = 0; k < lamps.size(); ++k) {
    const int count = 3 + static_cast<int>(k * 5 % 9);
    list.add(k % 4 == 1 ? stiff() : cutters[k % 3], lamps[k], Mode::leading_edge, leading[k % 4], count);
    list.add(cutters[k % 2 == 0 ? 0 : 2], lamps[k], Mode::trailing_edge, trailing[(k + 1) % 4], count);
    list.add(k % 3 == 2 ? mosfet_pair() : relay(), lamps[k], Mode::on_off, on_off[k % 4], count);
  }
}

void add_120v(List& list) {
  for (const LampEvidence& lamp : lamps_120v()) {
    const auto there = [](Channel channel) {
      channel.supply.voltage_v = 120.0;
      channel.supply.frequency_hz = 60.0;
      channel.name += " 120 V";
      return channel;
    };
    list.add(there(triac()), lamp, Mode::leading_edge, "repetitive_peak", 5);
    list.add(there(mosfet_pair()), lamp, Mode::trailing_edge, "continuous_current", 6);
    list.add(there(relay()), lamp, Mode::on_off, "surge_i2t", 4);
  }
}

void add_mixed(List& list) {
  const std::vector<LampEvidence> lamps = lamps_230v();
  const auto lamp = [&](const char* name) {
    return *std::find_if(lamps.begin(), lamps.end(), [&](const LampEvidence& one) { return one.name == name; });
  };
  list.add(triac(), lamp("LED 8 W"), Mode::leading_edge, "repetitive_peak", 4, {{lamp("pendant 60 W"), 2}});
  list.add(mosfet_pair(), lamp("LED string"), Mode::trailing_edge, "continuous_current", 6, {{lamp("candle 28 W"), 1}});
  list.add(relay(), lamp("LED 15 W choked"), Mode::on_off, "surge_peak", 5, {{lamp("transformer"), 1}});
  list.add(stiff(), lamp("corrected 15 W"), Mode::leading_edge, "current_rise", 3, {{lamp("LED linear"), 4}});
  list.add(relay(), lamp("pendant 60 W"), Mode::on_off, "surge_i2t", 4, {{lamp("LED 8 W"), 6}});
  list.add(bridge_mosfet(), lamp("dropper"), Mode::trailing_edge, "switch_temperature", 7, {{lamp("heater"), 1}});
  list.add(mosfet_pair(), lamp("two taps"), Mode::trailing_edge, "repetitive_peak", 8,
           {{lamp("LED 8 W"), 3}, {lamp("heater"), 1}});
  list.add(triac(), lamp("fan"), Mode::leading_edge, "continuous_current", 3, {{lamp("pendant 60 W"), 1}});
}

void add_direct(List& list) {
  Channel strip;
  strip.name = "24 V pulse width";
  strip.supply.tolerance_percent = 0.0;
  strip.output.kind = OutputKind::dc_pwm;
  strip.output.switch_kind = SwitchKind::mosfet;
  strip.output.supply_voltage_v = 24.0;
  Channel driver = strip;
  driver.name = "350 mA";
  driver.output.kind = OutputKind::dc_constant_current;
  driver.output.current_a = 0.35;
  const LampEvidence tape = known("strip", "strip", "", {20.6, 1.1, 0.0});
  const LampEvidence thin = known("thin strip", "strip", "", {19.5, 6.0, 0.0});
  const LampEvidence wire = known("wire", "resistor", "", {30.0});
  const LampEvidence chain = known("emitter", "emitter", "", {1e-24, 0.6, 2.5});
  const LampEvidence small = known("small emitter", "emitter", "", {1e-18, 0.25, 1.0});
  list.add(strip, tape, Mode::dc_pwm, "continuous_current", 4);
  list.add(strip, thin, Mode::dc_pwm, "repetitive_peak", 9);
  list.add(strip, wire, Mode::dc_pwm, "continuous_current", 5);
  list.add(strip, thin, Mode::dc_pwm, "continuous_current", 3, {{tape, 1}, {wire, 2}});
  list.add(driver, chain, Mode::dc_constant_current, "compliance", 3);
  list.add(driver, small, Mode::dc_constant_current, "compliance", 4, {{chain, 1}});
}

OperatingCase case_of(const Pair& pair, int count, const CheckedConstraint& one) {
  OperatingCase point;
  point.channel = pair.channel;
  for (const LoadItem& item : load_of(pair, count)) point.lamps.push_back({*item.evidence.lamp, item.count});
  point.mode = pair.mode;
  point.turn_on = one.at_turn_on;
  point.setting_deg = one.nominal_setting_deg;
  point.supply_v = pair.channel.supply.voltage_v;
  return point;
}

double in_ngspice(const OperatingCase& point, const std::string& constraint, int& helped) {
  if (point.mode == Mode::dc_pwm || point.mode == Mode::dc_constant_current) return direct_total(point);
  // a rise over 1 us is read off steps of a tenth of that
  const ChannelRun run = constraint == "current_rise" ? simulate(point, 0.1e-6) : simulate(point);
  helped = std::max(helped, run.helped);
  const std::optional<double> value = reading(constraint, point, run);
  if (!value) throw std::runtime_error("nothing reads " + constraint + " off waveforms");
  return *value;
}

/// Of the constraint alone, whatever else the channel is judged by.
int nominal_count(const Pair& pair) {
  if (pair.fixed.empty()) {
    const Recommendation answer = recommend(pair.lamp, pair.channel);
    for (const ModeVerdict& verdict : answer.modes) {
      if (verdict.mode != pair.mode) continue;
      for (const ConstraintResult& result : verdict.constraints) {
        if (result.name == pair.constraint && result.max_lamps_nominal) return *result.max_lamps_nominal;
      }
    }
    throw std::runtime_error("mode or constraint not judged");
  }
  int count = 0;
  while (find(check_load(load_of(pair, count + 1), pair.channel, pair.mode), pair.constraint).holds_nominal) ++count;
  return count;
}

}  // namespace

double Trial::deviation() const {
  return std::max(std::abs(ours / theirs - 1.0), std::abs(ours_more / theirs_more - 1.0));
}

std::vector<Pair> channel_pairs() {
  List list;
  add_families(list);
  add_120v(list);
  add_mixed(list);
  add_direct(list);
  return list.pairs;
}

Trial try_pair(const Pair& unrated, bool beside) {
  Pair pair = unrated;
  rate(pair.channel, pair.constraint, limit_for(pair));
  Trial trial;
  trial.lamps = nominal_count(pair);
  if (trial.lamps < 1) throw std::runtime_error("no lamp is allowed");
  const LoadCheck check = check_load(load_of(pair, trial.lamps), pair.channel, pair.mode);
  const LoadCheck more = check_load(load_of(pair, trial.lamps + 1), pair.channel, pair.mode);
  const CheckedConstraint& here = find(check, pair.constraint);
  const CheckedConstraint& above = find(more, pair.constraint);
  trial.limit = here.limit;
  trial.unit = here.unit;
  trial.setting_deg = here.nominal_setting_deg;
  trial.at_turn_on = here.at_turn_on;
  trial.ours = here.nominal_value;
  trial.ours_more = above.nominal_value;
  const OperatingCase point = case_of(pair, trial.lamps, here);
  trial.highest = trial.theirs = in_ngspice(point, pair.constraint, trial.helped);
  trial.theirs_more = in_ngspice(case_of(pair, trial.lamps + 1, above), pair.constraint, trial.helped);
  const bool angles = here.at_turn_on
                          ? pair.mode != Mode::trailing_edge && !pair.channel.output.zero_cross_turn_on.value_or(false)
                          : pair.mode == Mode::leading_edge || pair.mode == Mode::trailing_edge;
  for (const double step : {-10.0, 10.0}) {
    OperatingCase other = point;
    other.setting_deg += step;
    const double low = here.at_turn_on ? 0.0 : *pair.channel.output.min_conduction_deg;
    const double high = here.at_turn_on ? 179.0 : *pair.channel.output.max_conduction_deg;
    if (!beside || !angles || other.setting_deg < low || other.setting_deg > high) continue;
    trial.highest = std::max(trial.highest, in_ngspice(other, pair.constraint, trial.helped));
  }
  return trial;
}

}  // namespace lampload::test
