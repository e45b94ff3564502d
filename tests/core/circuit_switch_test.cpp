// What a switch does besides conducting, against closed forms: edges, avalanche, heat of a pulse, gate, bounce, soft
// start, leakage; and what the supply's neutral sees.

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <numbers>

#include "core/circuit/edge_loss.h"
#include "core/circuit/line_cycle.h"
#include "tests/reference/phase_control.h"

namespace lampload::circuit_switch_test {
namespace {

constexpr double pi = std::numbers::pi;
constexpr double crest_v = 230.0 * std::numbers::sqrt2;

LampGroup resistor(double ohm, int count = 1) { return {Lamp(find_family("resistor", ""), {ohm}), count}; }

/// 15 Ohm, 1.6 V, 4.7 uF; input_f across the terminals; a string of 200 V.
LampGroup reservoir(double input_f = 0.0, double string_v = 200.0, double string_ohm = 1500.0) {
  return {Lamp(find_family("rectifier_capacitor", "led_string"),
               {15.0, 0.0, input_f, 1.6, 4.7e-6, 1.0, string_v, string_ohm}),
          1};
}

Channel bare_channel() {
  Channel channel;
  channel.output.edges = {Edge::leading, Edge::trailing};
  return channel;
}

SteadyFigures steady(const Channel& channel, std::span<const LampGroup> lamps, const Operation& operation) {
  return DrivenChannel(path_of(channel, channel.supply.voltage_v), lamps).steady(operation);
}

TEST(SwitchPath, BackToBackHasTwoDevicesInThePath) {
  Channel channel = bare_channel();
  channel.output.on_resistance_ohm = 0.2;
  EXPECT_EQ(path_of(channel, 230.0).on.slope_ohm, 0.4);
  channel.output.switch_kind = SwitchKind::bridge_mosfet;
  channel.output.on_voltage_v = 0.6;
  EXPECT_EQ(path_of(channel, 230.0).on.slope_ohm, 0.2);
  EXPECT_EQ(path_of(channel, 230.0).on.threshold_v, 1.2);
}

// A resistor's voltage and current change together: V I t / 6 at each edge.
TEST(SwitchEdge, ResistorCostsASixth) {
  Channel channel = bare_channel();
  channel.output.edge_time_s = 50e-6;
  const std::array lamps = {resistor(529.0, 4)};
  const double expected_w = crest_v * 4.0 * crest_v / 529.0 * 50e-6 / 6.0 * 100.0;
  for (const Drive drive : {Drive::leading_edge, Drive::trailing_edge}) {
    EXPECT_NEAR(steady(channel, lamps, {drive, 90.0}).switching_w, expected_w, 0.01 * expected_w);
  }
  channel.output.edge_time_s.reset();
  EXPECT_EQ(steady(channel, lamps, {Drive::trailing_edge, 90.0}).switching_w, 0.0);
}

// An inductance keeps its current up while the voltage rises: V I t / 2. A reservoir blocks as soon as its terminals
// fall.
TEST(SwitchEdge, InductanceCostsHalfAndAReservoirNothing) {
  const Channel channel = bare_channel();
  const auto loss = [&](const LampGroup& lamp, double& current_a) {
    Network network(path_of(channel, 230.0), std::span(&lamp, 1));
    network.set_closed(true);
    network.run_to(4.5e-3, [](const Instant&, const Instant&) { return true; });
    current_a = network.now().current_a;
    const double v = network.now().terminal_v;
    return edge_loss_j(network, v, v, 0.0, 20e-6) / (v * current_a * 20e-6);
  };
  double current_a = 0.0;
  EXPECT_NEAR(loss({Lamp(find_family("inductive", ""), {10.0, 1.0}), 1}, current_a), 0.5, 0.01);
  EXPECT_GT(current_a, 0.5);
  EXPECT_LT(loss(reservoir(), current_a), 0.12);
  EXPECT_GT(current_a, 0.1);
}

// What goes into a clamp of Vc when L and R carry I and the supply V pushes on: the current falls with the time
// constant L / R towards -(Vc - V) / R.
TEST(SwitchEdge, ClampTakesTheCutEnergyAndWhatTheSupplyAdds) {
  Channel channel = bare_channel();
  channel.supply.source_inductance_h = 2e-3;
  channel.output.clamp_voltage_v = 600.0;
  const std::array lamps = {resistor(52.9)};
  const SteadyFigures figures = steady(channel, lamps, {Drive::trailing_edge, 90.0});
  const double i = figures.cut_a;
  EXPECT_NEAR(i, crest_v / 52.9, 0.02 * crest_v / 52.9);
  const double r = 52.9 + 1.0;  // the clamp's own slope is 1 Ohm
  const double push_v = 600.0 - crest_v;
  const double charge_c = 2e-3 / r * i - push_v * 2e-3 / (r * r) * std::log1p(i * r / push_v);
  EXPECT_NEAR(figures.clamp_j, 600.0 * charge_c, 0.02 * 600.0 * charge_c);
}

// A lamp's own inductance cannot be cut: its energy goes into the switch, whatever the path holds.
TEST(SwitchEdge, InductiveLampDrivesTheClamp) {
  Channel channel = bare_channel();
  channel.output.clamp_voltage_v = 600.0;
  const std::array lamps = {LampGroup{Lamp(find_family("inductive", ""), {20.0, 0.5}), 1}};
  const SteadyFigures figures = steady(channel, lamps, {Drive::trailing_edge, 120.0});
  EXPECT_GT(figures.clamp_j, 0.5 * 0.5 * figures.cut_a * figures.cut_a);
  EXPECT_LT(figures.cut_energy_j, 1e-3 * figures.clamp_j);
}

// Constant power: Z(t) = Z(10 ms) sqrt(t / 10 ms). Power in a ramp p = a t: the integral of a s dZ(t - s) is two thirds
// of a t Z(t).
TEST(PulseHeat, FollowsTheRootOfTime) {
  for (const double end_s : {2e-6, 20e-6, 200e-6, 2e-3, 10e-3, 40e-3}) {
    PulseHeat constant(0.5);
    PulseHeat ramp(0.5);
    constexpr int steps = 400;
    for (int k = 0; k < steps; ++k) {
      constant.step(20.0, end_s / steps);
      ramp.step(20.0 * (k + 0.5) / steps, end_s / steps);
    }
    const double expected_k = 20.0 * 0.5 * std::sqrt(end_s / 10e-3);
    EXPECT_NEAR(constant.peak_k(), expected_k, 0.02 * expected_k) << end_s;
    EXPECT_NEAR(ramp.peak_k(), expected_k * 2.0 / 3.0, 0.02 * expected_k) << end_s;
  }
}

// A half wave of a resistor through 0.1 Ohm and nothing else: p = R i^2, by quadrature of the same law.
TEST(PulseHeat, OfASurge) {
  Channel channel = bare_channel();
  channel.output.switch_kind = SwitchKind::bridge_mosfet;
  channel.output.on_voltage_v = 0.0;
  channel.output.on_resistance_ohm = 0.1;
  channel.output.pulse_10ms_k_per_w = 2.0;
  const std::array lamps = {resistor(10.0)};
  const TurnOnFigures figures = turn_on(path_of(channel, 230.0), lamps, 0.0);
  double highest_k = 0.0;
  const double i = crest_v / 10.101;
  for (double end_s = 4e-3; end_s < 10e-3; end_s += 0.1e-3) {
    double rise_k = 0.0;
    constexpr int parts = 2000;  // in u = sqrt(end - s), which takes the root's pole away
    for (int k = 0; k < parts; ++k) {
      const double u = std::sqrt(end_s) * (k + 0.5) / parts;
      const double current_a = i * std::sin(100.0 * pi * (end_s - u * u));
      rise_k += 0.1 * current_a * current_a * 2.0 / std::sqrt(10e-3) * std::sqrt(end_s) / parts;
    }
    highest_k = std::max(highest_k, rise_k);
  }
  EXPECT_NEAR(figures.junction_rise_k, highest_k, 0.02 * highest_k);
}

// 1 H behind 100 Ohm, fired at the crest: the current at the end of the gate pulse is V t / L, still far from what the
// interval brings.
TEST(TriacGate, CurrentAtTheEndOfThePulse) {
  Channel channel = bare_channel();
  channel.output.switch_kind = SwitchKind::triac;
  channel.output.edges = {Edge::leading};
  channel.output.on_voltage_v = 0.0;
  const std::array lamps = {LampGroup{Lamp(find_family("inductive", ""), {100.0, 1.0}), 1}};
  for (const double gate_s : {100e-6, 1e-3}) {
    channel.output.gate_pulse_s = gate_s;
    const SteadyFigures figures = steady(channel, lamps, {Drive::leading_edge, 90.0});
    const double w = 2.0 * pi * 50.0;
    // integral of V cos(w t) from the crest on, with the resistance's first-order correction
    const double expected_a = crest_v * std::sin(w * gate_s) / w * (1.0 - 0.5 * gate_s * 100.0);
    EXPECT_NEAR(figures.gate_end_a, expected_a, 0.02 * expected_a) << gate_s;
    EXPECT_GT(figures.latch_a, figures.gate_end_a);
  }
}

// After the cut the input capacitance runs down through a resistor: V exp(-t / RC).
TEST(TerminalRelease, InputCapacitanceRunsDown) {
  Channel channel = bare_channel();
  channel.output.zero_cross_sense_v = 20.0;
  for (const double ohm : {10e3, 20e3}) {
    const std::array lamps = {resistor(ohm), reservoir(100e-9, 250.0, 50e3)};
    const SteadyFigures figures = steady(channel, lamps, {Drive::trailing_edge, 90.0});
    const double fall_s = ohm * 100e-9 * std::log(crest_v / 20.0);
    if (ohm < 15e3) {
      EXPECT_NEAR(figures.fallen_deg, 90.0 + fall_s * 180.0 / 10e-3, 1.5);
    } else {
      EXPECT_GT(figures.fallen_deg, 180.0);
      EXPECT_NEAR(figures.fallen_deg, 180.0 * crest_v / 20.0 * std::exp(-5e-3 / (ohm * 100e-9)), 5.0);
    }
  }
}

// A series capacitor that was charged at one crest and is closed again on the other side meets more than one crest.
TEST(ContactBounce, ASecondMakeMayBeTheWorse) {
  Channel channel;
  channel.output.kind = OutputKind::relay;
  channel.output.switch_kind = SwitchKind::relay;
  const std::array lamps = {
      LampGroup{Lamp(find_family("capacitive_dropper", ""), {330e-9, 150.0, 1e6, 1.6, 10e-6, 60.0, 300.0}), 1}};
  const auto worst = [&](const Channel& with) {
    double peak_a = 0.0;
    for (double phase_deg = 0.0; phase_deg < 180.0; phase_deg += 15.0) {
      peak_a = std::max(peak_a, turn_on(path_of(with, 230.0), lamps, phase_deg).peak_a);
    }
    return peak_a;
  };
  const double once_a = worst(channel);
  channel.output.contact_bounce_s = 10e-3;
  EXPECT_GT(worst(channel), 1.25 * once_a);
  // contacts alone bounce
  channel.output.switch_kind = SwitchKind::mosfet_pair;
  EXPECT_NEAR(worst(channel), once_a, 1e-9);
}

TEST(SoftStart, ResistorEndsAtItsUncutHalfCycle) {
  const Channel channel = bare_channel();
  const std::array lamps = {resistor(529.0)};
  DrivenChannel driven(path_of(channel, 230.0), lamps);
  const TurnOnFigures figures = driven.soft_start({Drive::trailing_edge, 180.0}, 20.0, 0.1);
  EXPECT_NEAR(figures.peak_a, crest_v / 529.0, 2e-3);
  EXPECT_NEAR(figures.i2t_a2s, 0.01 * std::pow(230.0 / 529.0, 2), 2e-5);
}

// A cold filament of 66 Ohm: the first half cycle, cut after 20 degrees, reaches V sin(20) / R; the filament is warm
// before the crest is let through.
TEST(SoftStart, FilamentWarmsUpBeforeTheCrest) {
  const Channel channel = bare_channel();
  const std::array lamps = {LampGroup{Lamp(find_family("filament", ""), {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}), 1}};
  const Path path = path_of(channel, 230.0);
  const double at_once_a = turn_on(path, lamps, 90.0).peak_a;
  EXPECT_NEAR(at_once_a, crest_v / 66.0, 0.05 * crest_v / 66.0);
  double before_a = at_once_a;
  for (const double ramp_s : {0.02, 0.1, 0.3}) {
    DrivenChannel driven(path, lamps);
    const TurnOnFigures figures = driven.soft_start({Drive::leading_edge, 175.0}, 20.0, ramp_s);
    EXPECT_GE(figures.peak_a, crest_v * std::sin(20.0 * pi / 180.0) / 66.0 * 0.98);
    EXPECT_LT(figures.peak_a, before_a);
    before_a = figures.peak_a;
  }
  EXPECT_LT(before_a, 0.6 * at_once_a);
}

// Off: 100 nF and 100 Ohm in series with the lamp.
TEST(OffState, SnubberFeedsAResistor) {
  Channel channel = bare_channel();
  channel.output.snubber_f = 100e-9;
  channel.output.snubber_ohm = 100.0;
  const std::array lamps = {resistor(529.0)};
  const double current_a = 230.0 / std::hypot(629.0, 1.0 / (2.0 * pi * 50.0 * 100e-9));
  EXPECT_NEAR(current_a, 7.2e-3, 0.1e-3);
  const SteadyFigures figures = steady(channel, lamps, {Drive::off, 0.0});
  EXPECT_NEAR(figures.lamp_power_w, 529.0 * current_a * current_a, 0.02 * 529.0 * current_a * current_a);
  EXPECT_EQ(figures.rms_a, 0.0);
}

TEST(OffState, LeakageAndTheOutputsOwnSupplyAreResistances) {
  Channel channel = bare_channel();
  channel.output.off_leakage_a = 1e-3;
  const std::array lamps = {resistor(529.0)};
  EXPECT_NEAR(steady(channel, lamps, {Drive::off, 0.0}).lamp_power_w, 529.0 * 1e-6, 0.01 * 529.0 * 1e-6);
  channel.output.off_leakage_a.reset();
  channel.output.neutral = false;
  channel.output.two_wire_supply_a = 0.9003e-3;  // mean: 1 mA rms
  EXPECT_NEAR(steady(channel, lamps, {Drive::off, 0.0}).lamp_power_w, 529.0 * 1e-6, 0.01 * 529.0 * 1e-6);
}

// A capacitor ahead of a bridge moves 4 C (V - Vbus) a cycle into the bus (the capacitive dropper's closed form): here
// the snubber is that capacitor.
TEST(OffState, SnubberPumpsAReservoirUpToItsString) {
  Channel channel = bare_channel();
  channel.output.snubber_f = 47e-9;
  channel.output.snubber_ohm = 47.0;
  const std::array lamps = {reservoir(0.0, 100.0, 1000.0)};
  const SteadyFigures figures = steady(channel, lamps, {Drive::off, 0.0});
  EXPECT_TRUE(figures.periodic);
  double bus_v = 100.0;  // the string carries the pumped current, its knee included: found by the terminals' own power
  const double mean_a = 4.0 * 50.0 * 47e-9 * (crest_v - bus_v - 1.6);
  bus_v = figures.lamp_power_w / mean_a;
  EXPECT_NEAR(bus_v, 95.0, 8.0);
}

// A converter whose bus falls below its lock-out is a resistance from there on: 1 mA rms of leakage (0.9003 mA
// rectified and averaged) into 50^2 / 5 Ohm behind a bridge of 1.6 V. It discharges its reservoir faster and faster on
// the way.
TEST(OffState, AConverterComesDownToItsLeakage) {
  Channel channel = bare_channel();
  channel.output.off_leakage_a = 1e-3;
  const std::array lamps = {LampGroup{
      Lamp(find_family("rectifier_capacitor", "constant_power"), {22.0, 0.0, 0.0, 1.6, 4.7e-6, 0.0, 5.0}), 1}};
  DrivenChannel driven(path_of(channel, 230.0), lamps);
  driven.steady({Drive::always_on, 180.0});
  const SteadyFigures figures = driven.steady({Drive::off, 0.0});
  EXPECT_TRUE(figures.periodic);
  const double mean_a = 0.9003e-3;
  const double expected_w = mean_a * (1.6 + mean_a * 500.0);
  EXPECT_NEAR(figures.lamp_power_w, expected_w, 0.03 * expected_w);
}

// Three phases with the same resistive cut: the neutral carries what the three chopped sines do not cancel.
TEST(Neutral, OfThreePhaseCuts) {
  const std::array lamps = {resistor(529.0)};
  for (const double firing_deg : {60.0, 90.0, 120.0, 150.0}) {
    DrivenChannel driven(path_of(bare_channel(), 230.0), lamps);
    Waveform waveform;
    const SteadyFigures figures = driven.steady({Drive::leading_edge, 180.0 - firing_deg}, &waveform);
    const LineCycle cycle = line_cycle(waveform, figures, 230.0, 50.0);
    double square = 0.0;
    constexpr int parts = 7200;
    for (int k = 0; k < parts; ++k) {
      double sum = 0.0;
      for (const double turn : {0.0, 120.0, 240.0}) {
        const double deg = std::fmod(360.0 * (k + 0.5) / parts + turn, 360.0);
        if (std::fmod(deg, 180.0) >= firing_deg) sum += std::sin(deg * pi / 180.0);
      }
      square += sum * sum / parts;
    }
    const double expected_a = crest_v / 529.0 * std::sqrt(square);
    EXPECT_NEAR(cycle.neutral_rms_a, expected_a, 0.01 * expected_a) << firing_deg;
    // pulses of less than 60 degrees do not overlap
    if (firing_deg >= 120.0) {
      EXPECT_NEAR(cycle.neutral_rms_a, std::numbers::sqrt3 * cycle.rms_a, 2e-3 * cycle.rms_a);
    }
  }
}

TEST(Neutral, OrdersOfAPhaseCut) {
  const std::array lamps = {resistor(529.0)};
  for (const reference::PhaseCut& cut : reference::kPhaseCut) {
    for (const Drive drive : {Drive::leading_edge, Drive::trailing_edge}) {
      DrivenChannel driven(path_of(bare_channel(), 230.0), lamps);
      Waveform waveform;
      const SteadyFigures figures = driven.steady({drive, 180.0 - cut.firing_deg}, &waveform);
      const LineCycle cycle = line_cycle(waveform, figures, 230.0, 50.0);
      const auto over_full = [&](std::size_t n) { return cycle.harmonics.rms_a[n] * 529.0 / 230.0; };
      EXPECT_NEAR(over_full(1), cut.fundamental, 2e-3) << cut.firing_deg;
      EXPECT_NEAR(over_full(3), cut.third, 2e-3) << cut.firing_deg;
      EXPECT_NEAR(over_full(5), cut.fifth, 2e-3) << cut.firing_deg;
      EXPECT_NEAR(over_full(7), cut.seventh, 2e-3) << cut.firing_deg;
      EXPECT_NEAR(over_full(2), 0.0, 2e-3) << cut.firing_deg;
      EXPECT_NEAR(cycle.harmonics.power_factor, cut.power_factor, 2e-3) << cut.firing_deg;
    }
  }
}

}  // namespace
}  // namespace lampload::circuit_switch_test
