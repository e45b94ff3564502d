// The steady state found directly is the one that waiting leads to, also where states are slow; and supplies that are
// no pure sine.

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "core/circuit/drive.h"
#include "core/circuit/secants.h"

namespace lampload::circuit_steady_test {
namespace {

constexpr double pi = std::numbers::pi;

// A linear map of two slow states and a fast one: secants are exact after as many differences.
TEST(Secants, ALinearMapIsSolvedAfterAsManyDifferencesAsItHasStates) {
  const auto map = [](const std::vector<double>& x) {
    return std::vector<double>{10.0 + 0.99 * x[0] + 0.05 * x[1], -3.0 + 0.9 * x[1], 0.5 * x[0] + 1.0};
  };
  // by hand: x1 = -30, x0 = (10 - 1.5) / 0.01 = 850, x2 = 426
  Secants secants;
  secants.begin();
  std::vector<double> x{0.0, 0.0, 0.0};
  for (int n = 0; n < 5; ++n) {
    const std::vector<double> y = map(x);
    std::vector<double> residual(3);
    for (std::size_t i = 0; i < 3; ++i) residual[i] = y[i] - x[i];
    secants.add(residual, y);
    x = secants.estimate().value;
  }
  EXPECT_NEAR(x[0], 850.0, 1e-6);
  EXPECT_NEAR(x[1], -30.0, 1e-6);
  EXPECT_NEAR(x[2], 426.0, 1e-6);
}

struct Slow {
  const char* name;
  const char* family;
  const char* law;
  std::vector<double> values;
  Operation operation;
};
void PrintTo(const Slow& one, std::ostream* out) { *out << one.name; }

class SlowStates : public testing::TestWithParam<Slow> {};

TEST_P(SlowStates, SteadyIsWhatWaitingLeadsTo) {
  const Slow& slow = GetParam();
  Channel channel;
  channel.supply.source_resistance_ohm = 0.4;
  channel.supply.source_inductance_h = 796e-6;
  channel.output.on_resistance_ohm = 0.1;
  const LampGroup lamp{Lamp(find_family(slow.family, slow.law), slow.values), 3};
  const Path path = path_of(channel, 230.0);
  DrivenChannel found(path, std::span(&lamp, 1));
  const SteadyFigures figures = found.steady(slow.operation);
  EXPECT_TRUE(figures.periodic);
  EXPECT_LE(figures.half_cycles, 20);
  DrivenChannel waited(path, std::span(&lamp, 1));
  SteadyFigures last;
  for (int n = 0; n < 1500; ++n) last = waited.half_cycle(slow.operation);
  // where steps fall differently the waiting itself settles up to 0.4 % apart
  EXPECT_NEAR(figures.rms_a, last.rms_a, 0.006 * last.rms_a);
  EXPECT_NEAR(figures.peak_a, last.peak_a, 0.008 * last.peak_a);
  EXPECT_NEAR(figures.lamp_power_w, last.lamp_power_w, 0.006 * last.lamp_power_w);
  RecordProperty("half_cycles", figures.half_cycles);
}

INSTANTIATE_TEST_SUITE_P(
    Lamps, SlowStates,
    testing::Values(
        // time constants: about 0.5 s, 5 s at little power, 25 half cycles' worth of charge, L/R of 0.16 s
        Slow{"Filament", "filament", "", {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}, {Drive::always_on, 180.0}},
        Slow{"FilamentDimmed", "filament", "", {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}, {Drive::leading_edge, 40.0}},
        Slow{"ThickFilament", "filament", "", {6.6, 9.8e-12, 6e-2, 0.5, 1e-4, 0.0}, {Drive::trailing_edge, 100.0}},
        Slow{"LargeReservoir",
             "rectifier_capacitor",
             "constant_power",
             {5.0, 0.0, 0.0, 1.6, 4.7e-4, 0.1, 3.0},
             {Drive::leading_edge, 120.0}},
        Slow{"LargeReservoirOfAString",
             "rectifier_capacitor",
             "led_string",
             {15.0, 0.0, 0.0, 1.6, 1e-4, 1.0, 200.0, 15000.0},
             {Drive::trailing_edge, 60.0}},
        Slow{"Transformer", "inductive", "transformer", {25.0, 0.02, 4.0, 900.0, 0.0}, {Drive::always_on, 180.0}},
        Slow{"Winding", "inductive", "", {12.0, 0.8}, {Drive::always_on, 180.0}},
        Slow{"Dropper",
             "capacitive_dropper",
             "",
             {3.3e-7, 220.0, 1e6, 1.6, 1e-4, 90.0, 6000.0},
             {Drive::always_on, 180.0}},
        Slow{"SlowLoop", "corrected_driver", "", {6e-4, 1.5e-7, 6.0, 12.0, 15.0, 1.0}, {Drive::leading_edge, 100.0}}),
    [](const auto& info) { return info.param.name; });

LampGroup resistor(double ohm) { return {Lamp(find_family("resistor", ""), {ohm}), 1}; }

// Rms of a sum of orthogonal parts: the root of the sum of squares.
// A switch that stood closed opens for the first cut: what comes after is as from rest.
TEST(SteadyState, IsTheSameAfterOperationWithoutACut) {
  const std::vector<Lamp> lamps{
      Lamp(find_family("filament", ""), {38.65, 7.434e-13, 1.439e-3, 0.5, 0.0, 0.0}),
      Lamp(find_family("resistor", ""), {800.0}),
      Lamp(find_family("rectifier_capacitor", "led_string"), {15.0, 0.0, 0.0, 1.6, 4.7e-6, 1.0, 200.0, 1500.0})};
  for (const bool triac : {false, true}) {
    Path path = path_of(Channel{}, 230.0);
    path.releases_at_zero = triac;
    for (const Lamp& lamp : lamps) {
      const LampGroup group{lamp, 1};
      for (const Operation& operation : {Operation{Drive::leading_edge, 90.0}, Operation{Drive::leading_edge, 150.0},
                                         Operation{Drive::trailing_edge, 90.0}}) {
        if (triac && operation.drive == Drive::trailing_edge) continue;
        const SteadyFigures alone = DrivenChannel(path, std::span(&group, 1)).steady(operation);
        DrivenChannel channel(path, std::span(&group, 1));
        channel.steady({Drive::always_on, 180.0});
        const SteadyFigures after = channel.steady(operation);
        SCOPED_TRACE(std::string(lamp.family().name) + " " + std::to_string(operation.conduction_deg));
        EXPECT_NEAR(after.rms_a, alone.rms_a, 5e-3 * alone.rms_a + 1e-6);
        EXPECT_NEAR(after.peak_a, alone.peak_a, 1e-2 * alone.peak_a);
        EXPECT_NEAR(after.lamp_power_w, alone.lamp_power_w, 5e-3 * alone.lamp_power_w);
      }
    }
  }
}

TEST(Supply, HarmonicsAndOffsetAddTheirSquares) {
  Channel channel;
  channel.output.on_resistance_ohm = 1e-3;
  channel.supply.harmonics = {{3, 10.0, 180.0}, {5, 6.0, 0.0}};
  const LampGroup lamp = resistor(529.0);
  const double fundamental_a = 230.0 / 529.0;
  double square = 1.0 + 0.1 * 0.1 + 0.06 * 0.06;
  const Path odd = path_of(channel, 230.0);
  EXPECT_TRUE(odd.half_wave_symmetric());
  EXPECT_NEAR(DrivenChannel(odd, std::span(&lamp, 1)).steady({}).rms_a, fundamental_a * std::sqrt(square), 3e-4);

  channel.supply.harmonics.push_back({2, 4.0, 0.0});
  channel.supply.dc_offset_v = 11.5;  // 5 % of the rms voltage
  square += 0.04 * 0.04 + 0.05 * 0.05;
  const Path uneven = path_of(channel, 230.0);
  EXPECT_FALSE(uneven.half_wave_symmetric());
  const SteadyFigures figures = DrivenChannel(uneven, std::span(&lamp, 1)).steady({});
  EXPECT_NEAR(figures.rms_a, fundamental_a * std::sqrt(square), 3e-4);
  EXPECT_TRUE(figures.periodic);
  // crest of 325.27 sin x - 32.53 sin 3x + 19.52 sin 5x + 13.01 sin 2x + 11.5, by a fine table
  double crest_v = 0.0;
  for (double x = 0.0; x < 2.0 * pi; x += 1e-4) {
    crest_v = std::max(crest_v, std::abs(230.0 * std::numbers::sqrt2 *
                                             (std::sin(x) - 0.1 * std::sin(3.0 * x) + 0.06 * std::sin(5.0 * x) +
                                              0.04 * std::sin(2.0 * x)) +
                                         11.5));
  }
  EXPECT_NEAR(figures.peak_a, crest_v / 529.0, 1e-3 * figures.peak_a);
}

// A few volts of direct voltage across a winding of little resistance drive the core into saturation: half cycles
// differ.
TEST(Supply, AnOffsetSaturatesACore) {
  Channel channel;
  channel.output.on_resistance_ohm = 1e-3;
  const LampGroup lamp{Lamp(find_family("inductive", "transformer"), {25.0, 0.02, 4.0, 900.0, 0.8}), 1};
  const double even = DrivenChannel(path_of(channel, 230.0), std::span(&lamp, 1)).steady({}).peak_a;
  channel.supply.dc_offset_v = 5.0;
  DrivenChannel offset(path_of(channel, 230.0), std::span(&lamp, 1));
  const SteadyFigures figures = offset.steady({});
  EXPECT_TRUE(figures.periodic);
  EXPECT_GT(figures.peak_a, 1.3 * even);
  DrivenChannel waited(path_of(channel, 230.0), std::span(&lamp, 1));
  double peak = 0.0;
  for (int n = 0; n < 1000; ++n) {
    const double one = waited.half_cycle({}).peak_a;
    if (n >= 998) peak = std::max(peak, one);
  }
  EXPECT_NEAR(figures.peak_a, peak, 0.01 * peak);
}

}  // namespace
}  // namespace lampload::circuit_steady_test
