// The network solver against closed forms with the resistor family.

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "core/circuit/drive.h"

namespace lampload::circuit_network_test {
namespace {

constexpr double pi = std::numbers::pi;

LampGroup resistor(double ohm, int count = 1) { return {Lamp(find_family("resistor", ""), {ohm}), count}; }

Channel bare_channel() {
  Channel channel;
  channel.output.on_resistance_ohm = 1e-3;
  channel.output.edges = {Edge::leading, Edge::trailing};
  return channel;
}

SteadyFigures steady(const Channel& channel, const LampGroup& lamps, Drive drive, double conduction_deg) {
  return DrivenChannel(path_of(channel, channel.supply.voltage_v), std::span(&lamps, 1))
      .steady({drive, conduction_deg});
}

// Textbook: Vrms/V = sqrt(1 - a/pi + sin 2a / 2pi) for a firing angle a, and the same for the mirrored trailing cut.
TEST(Network, PhaseCutResistiveRmsAndPower) {
  const LampGroup lamp = resistor(529.0);
  for (double firing_deg = 0.0; firing_deg < 175.0; firing_deg += 15.0) {
    const double a = firing_deg * pi / 180.0;
    const double rms_v = 230.0 * std::sqrt(1.0 - a / pi + std::sin(2.0 * a) / (2.0 * pi));
    for (const Drive drive : {Drive::leading_edge, Drive::trailing_edge}) {
      const SteadyFigures figures = steady(bare_channel(), lamp, drive, 180.0 - firing_deg);
      EXPECT_TRUE(figures.periodic);
      EXPECT_NEAR(figures.rms_a, rms_v / 529.0, 2e-4 * 230.0 / 529.0) << firing_deg;
      EXPECT_NEAR(figures.lamp_power_w, rms_v * rms_v / 529.0, 0.05) << firing_deg;
      const double peak_a = 230.0 * std::numbers::sqrt2 / 529.0 * (firing_deg <= 90.0 ? 1.0 : std::sin(a));
      EXPECT_NEAR(figures.peak_a, peak_a, 1e-3 * peak_a + 1e-5) << firing_deg;
    }
  }
}

TEST(Network, IdenticalLampsShareTheSourceImpedance) {
  Channel channel = bare_channel();
  channel.supply.source_resistance_ohm = 0.4;  // IEC TR 60725 reference impedance 0.4 + j0.25 Ohm at 50 Hz
  channel.supply.source_inductance_h = 796e-6;
  const SteadyFigures figures = steady(channel, resistor(529.0, 100), Drive::always_on, 180.0);
  const double loop_ohm = std::hypot(5.29 + 0.4 + 2e-3 - 1e-3, 2.0 * pi * 50.0 * 796e-6);
  EXPECT_NEAR(figures.rms_a, 230.0 / loop_ohm, 2e-3 * 230.0 / loop_ohm);
}

TEST(Network, LampsOfDifferentKindsAddUp) {
  const std::array<LampGroup, 2> lamps = {resistor(529.0, 2), resistor(100.0, 3)};
  const Channel channel = bare_channel();
  const SteadyFigures figures = DrivenChannel(path_of(channel, 230.0), lamps).steady({Drive::always_on, 180.0});
  EXPECT_NEAR(figures.rms_a, 230.0 * (2.0 / 529.0 + 3.0 / 100.0), 5e-3);
}

// RL turn-on at the crest: the current of a series R-L on a sine is the steady sine less its start, decaying with L/R.
TEST(Network, InductiveSourceTurnOnFollowsTheClosedForm) {
  Channel channel = bare_channel();
  channel.supply.source_inductance_h = 10e-3;
  const LampGroup lamp = resistor(10.0);
  Waveform waveform;
  turn_on(path_of(channel, 230.0), std::span(&lamp, 1), 90.0, &waveform);
  const double w = 2.0 * pi * 50.0;
  const double r = 10.0 + 2e-3;
  const double z = std::hypot(r, w * 10e-3);
  const double lag = std::atan2(w * 10e-3, r);
  const double peak_a = 230.0 * std::numbers::sqrt2 / z;
  double worst = 0.0;
  for (std::size_t i = 0; i < waveform.time_s.size(); ++i) {
    const double t = waveform.time_s[i] - 5e-3;
    const double i_a = peak_a * (std::sin(w * t + pi / 2 - lag) - std::sin(pi / 2 - lag) * std::exp(-t * r / 10e-3));
    worst = std::max(worst, std::abs(waveform.current_a[i] - i_a));
  }
  EXPECT_LT(worst, 3e-3 * peak_a);
  RecordProperty("worst_error_a", std::to_string(worst));
}

// One ampere through a bridge and one switch, 0.6 V a diode: about 1.1 to 1.2 W in the diodes (common practice; 2 Vf
// times the mean of a rectified sine, 0.9003 A, is 1.08 W), plus I2 R.
TEST(Network, BridgeLossAtOneAmpere) {
  Channel channel = bare_channel();
  channel.output.switch_kind = SwitchKind::bridge_mosfet;
  channel.output.on_voltage_v = 0.6;
  channel.output.on_resistance_ohm = 0.1;
  const SteadyFigures figures = steady(channel, resistor(229.0), Drive::always_on, 180.0);
  EXPECT_NEAR(figures.rms_a, 1.0, 0.01);
  EXPECT_NEAR(figures.conduction_w, 1.2 * 0.9003 + 0.1, 0.02);
}

TEST(Network, TriacLetsGoBelowTheHoldingCurrent) {
  Channel channel = bare_channel();
  channel.output.switch_kind = SwitchKind::triac;
  channel.output.on_voltage_v = 1.0;
  channel.output.holding_current_a = 0.05;
  const SteadyFigures figures = steady(channel, resistor(529.0), Drive::leading_edge, 90.0);
  const double release_deg = 180.0 - std::asin((0.05 * 529.0 + 1.0) / (230.0 * std::numbers::sqrt2)) * 180.0 / pi;
  EXPECT_NEAR(figures.released_deg, release_deg, 0.5);
  EXPECT_GT(figures.latch_a, 0.6);
}

// The energy in the inductances when a trailing edge cuts: L I2 / 2.
TEST(Network, TrailingCutStoresTheEnergyOfTheInductances) {
  Channel channel = bare_channel();
  channel.supply.source_inductance_h = 796e-6;
  channel.output.choke_h = 100e-6;
  const SteadyFigures figures = steady(channel, resistor(52.9), Drive::trailing_edge, 90.0);
  const double cut_a = 230.0 * std::numbers::sqrt2 / 52.9;
  EXPECT_NEAR(figures.cut_a, cut_a, 5e-3 * cut_a);
  EXPECT_NEAR(figures.cut_energy_j, 0.5 * 896e-6 * cut_a * cut_a, 0.01 * 0.5 * 896e-6 * cut_a * cut_a);
}

}  // namespace
}  // namespace lampload::circuit_network_test
