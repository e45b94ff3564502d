// Waveforms of channels with unlike lamps side by side, behind choke and snubber, against ngspice: the same circuit of
// elements and tables (lamp_circuit.h, written from docs/models), solved by somebody else.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "tests/channels/channel_circuit.h"

namespace lampload::test::mixed_waveform_test {
namespace {

struct Lamps {
  const char* family;
  const char* load_law;
  std::vector<double> parameters;
  int count;
};

const Lamps heater = {"resistor", "", {529.0}, 1};
const Lamps pendant = {"filament", "", {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}, 1};  // 60 W
const Lamps led_8w = {"rectifier_capacitor", "constant_power", {20.0, 0.0, 2e-8, 1.6, 5e-6, 1.0, 8.0}, 4};
const Lamps led_choked = {"rectifier_capacitor", "constant_power", {8.0, 1e-3, 4.7e-8, 1.6, 1e-5, 0.5, 15.0}, 2};
const Lamps led_string = {"rectifier_capacitor", "led_string", {15.0, 0.0, 4.7e-8, 1.6, 4.7e-6, 1.0, 200.0, 1500.0}, 3};
const Lamps led_linear = {"rectifier_capacitor", "constant_current", {33.0, 0.0, 1e-8, 1.6, 4.7e-6, 2.0, 0.03}, 2};
const Lamps dropper = {"capacitive_dropper", "", {3.3e-7, 220.0, 1e6, 1.6, 2.2e-6, 90.0, 600.0}, 3};
const Lamps fan = {"inductive", "", {120.0, 0.8}, 1};
const Lamps transformer = {"inductive", "transformer", {25.0, 0.02, 4.0, 900.0, 0.0}, 1};
const Lamps two_taps = {"linear_driver", "two_taps", {1.6, 1e-8, 4e5, 140.0, 0.02, 260.0, 0.045}, 4};
const Lamps corrected = {"corrected_driver", "", {6e-4, 1.5e-7, 6.0, 12.0, 15.0, 0.01}, 2};

struct Network {
  const char* name;
  Mode mode;
  double conduction_deg;
  SwitchKind switch_kind;
  double choke_h;
  double snubber_f;
  double snubber_ohm;
  std::vector<Lamps> lamps;
  std::vector<SupplyHarmonic> harmonics = {};
};
void PrintTo(const Network& one, std::ostream* out) { *out << one.name; }

OperatingCase case_of(const Network& network) {
  OperatingCase point;
  Channel& channel = point.channel;
  channel.supply.source_resistance_ohm = 0.4;  // IEC TR 60725 reference impedance
  channel.supply.source_inductance_h = 796e-6;
  channel.supply.harmonics = network.harmonics;
  channel.cable = Cable{20.0, 1.5};
  channel.output.switch_kind = network.switch_kind;
  channel.output.on_resistance_ohm = 0.1;
  if (network.switch_kind == SwitchKind::triac) {
    channel.output.on_voltage_v = 1.0;
    channel.output.holding_current_a = 0.02;
  }
  channel.output.choke_h = network.choke_h;
  if (network.snubber_f > 0.0) {
    channel.output.snubber_f = network.snubber_f;
    channel.output.snubber_ohm = network.snubber_ohm;
  }
  for (const Lamps& lamps : network.lamps) {
    point.lamps.push_back({Lamp(find_family(lamps.family, lamps.load_law), lamps.parameters), lamps.count});
  }
  point.mode = network.mode;
  point.setting_deg = network.conduction_deg;
  return point;
}

double at(const std::vector<double>& t, const std::vector<double>& y, double time_s) {
  const auto after = std::lower_bound(t.begin(), t.end(), time_s);
  if (after == t.begin()) return y.front();
  if (after == t.end()) return y.back();
  const auto k = static_cast<std::size_t>(after - t.begin());
  const double span = t[k] - t[k - 1];
  return span > 0.0 ? std::lerp(y[k - 1], y[k], (time_s - t[k - 1]) / span) : y[k];
}

/// Rms of the difference over a cycle, over the peak of theirs.
struct Miss {
  double rms, peak;
};
Miss miss_of(const Waveform& ours, const std::vector<double>& our_value, double our_start_s, const ChannelRun& theirs,
             const std::vector<double>& their_value, double cycle_s) {
  constexpr int points = 20000;
  double square = 0.0, our_peak = 0.0, their_peak = 0.0;
  for (int k = 0; k < points; ++k) {
    const double t = (k + 0.5) * cycle_s / points;
    const double a = at(ours.time_s, our_value, our_start_s + t);
    const double b = at(theirs.time_s, their_value, t);
    square += (a - b) * (a - b) / points;
    our_peak = std::max(our_peak, std::abs(a));
    their_peak = std::max(their_peak, std::abs(b));
  }
  return {std::sqrt(square) / their_peak, our_peak / their_peak - 1.0};
}

class MixedWaveform : public testing::TestWithParam<Network> {};

TEST_P(MixedWaveform, IsThatOfNgspice) {
  const OperatingCase point = case_of(GetParam());
  const double cycle_s = 1.0 / point.channel.supply.frequency_hz;
  const ChannelRun theirs = simulate(point, 0.5e-6);
  DrivenChannel driven(path_of(point.channel, point.supply_v), point.lamps);
  const Operation operation{drive_of(point.mode), point.setting_deg};
  const SteadyFigures figures = driven.steady(operation);
  std::printf("%s: %s after %d half cycles\n", GetParam().name, figures.periodic ? "periodic" : "not periodic",
              figures.half_cycles);
  Waveform ours;
  if (!driven.at_cycle_start()) driven.half_cycle(operation);
  driven.run(operation, 2, ours);
  const double start_s = std::round(ours.time_s.front() / cycle_s) * cycle_s;
  const auto check = [&](const char* what, double limit, const std::vector<double>& our_value,
                         const std::vector<double>& their_value) {
    const Miss miss = miss_of(ours, our_value, start_s, theirs, their_value, cycle_s);
    std::printf("%s, %s: differs by %.3f %% of peak (rms), peak by %+.2f %%\n", GetParam().name, what, 100.0 * miss.rms,
                100.0 * miss.peak);
    EXPECT_LT(miss.rms, limit) << what;
    return miss.peak;
  };
  EXPECT_NEAR(check("all lamps", 0.01, ours.current_a, theirs.lamp_a), 0.0, 0.02);
  check("terminals", 0.01, ours.terminal_v, theirs.terminal_v);
  // While it rings, the current of one lamp into its input capacitance is known as the mean of each step.
  for (std::size_t k = 0; k < point.lamps.size(); ++k) {
    check(GetParam().lamps[k].family, 0.02, ours.lamp_a[k], theirs.each_a[k]);
  }
}

constexpr SwitchKind pair = SwitchKind::mosfet_pair;
constexpr SwitchKind bridge = SwitchKind::bridge_mosfet;
constexpr SwitchKind triac = SwitchKind::triac;

INSTANTIATE_TEST_SUITE_P(
    Networks, MixedWaveform,
    testing::Values(
        Network{"FilamentAndReservoir", Mode::leading_edge, 100.0, triac, 1.5e-3, 47e-9, 220.0, {pendant, led_8w}},
        Network{
            "FilamentAndReservoirTrailing", Mode::trailing_edge, 110.0, pair, 50e-6, 22e-9, 100.0, {pendant, led_8w}},
        Network{"UnlikeReservoirs", Mode::leading_edge, 90.0, bridge, 200e-6, 10e-9, 100.0, {led_string, led_choked}},
        Network{"UnlikeReservoirsTrailing",
                Mode::trailing_edge,
                80.0,
                pair,
                100e-6,
                22e-9,
                150.0,
                {led_string, led_linear}},
        Network{"WindingAndHeater", Mode::leading_edge, 120.0, triac, 1e-3, 100e-9, 100.0, {fan, heater}},
        Network{"DropperAndReservoir", Mode::trailing_edge, 120.0, bridge, 100e-6, 22e-9, 220.0, {dropper, led_string}},
        Network{"DropperAndHeater", Mode::leading_edge, 90.0, pair, 500e-6, 47e-9, 220.0, {dropper, heater}},
        Network{
            "TransformerAndFilament", Mode::leading_edge, 130.0, triac, 1.5e-3, 47e-9, 220.0, {transformer, pendant}},
        Network{"SegmentsAndCorrected", Mode::leading_edge, 110.0, bridge, 300e-6, 10e-9, 220.0, {two_taps, corrected}},
        Network{
            "FourKinds", Mode::trailing_edge, 100.0, pair, 100e-6, 47e-9, 100.0, {heater, pendant, led_8w, two_taps}},
        Network{"UncutOnFlattenedMains",
                Mode::on_off,
                180.0,
                pair,
                100e-6,
                47e-9,
                100.0,
                {pendant, led_choked},
                {{3, 3.0, 0.0}, {5, 2.0, 180.0}}}),
    [](const auto& info) { return std::string(info.param.name); });

}  // namespace
}  // namespace lampload::test::mixed_waveform_test
