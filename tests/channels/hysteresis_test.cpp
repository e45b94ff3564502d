// No lamp circuit of the list remembers where it came from: the steady state at a setting is the same from cold and
// from running lamps. Said by this program's sweeps and by ngspice, which starts from both.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "core/advice/dimming.h"
#include "tests/channels/channel_circuit.h"

namespace lampload::test::hysteresis_test {
namespace {

struct Memory {
  const char* name;
  const char* family;
  const char* load_law;
  std::vector<double> parameters;
  int count;
  double conduction_deg;  ///< where ngspice looks: near where the lamps come on, where it comes to rest there
};
void PrintTo(const Memory& one, std::ostream* out) { *out << one.name; }

/// A triac with snubber and choke: holding current, reservoirs and filament temperature together.
Channel triac() {
  Channel channel;
  channel.supply.source_resistance_ohm = 0.4;
  channel.supply.source_inductance_h = 796e-6;
  channel.output.switch_kind = SwitchKind::triac;
  channel.output.edges = {Edge::leading};
  channel.output.on_resistance_ohm = 0.05;
  channel.output.on_voltage_v = 1.0;
  channel.output.holding_current_a = 0.03;
  channel.output.choke_h = 1.5e-3;
  channel.output.snubber_f = 47e-9;
  channel.output.snubber_ohm = 220.0;
  channel.output.min_conduction_deg = 20.0;
  channel.output.max_conduction_deg = 160.0;
  return channel;
}

class NoMemory : public testing::TestWithParam<Memory> {};

TEST_P(NoMemory, RisingAndFallingMeet) {
  const Memory& lamp = GetParam();
  const LampGroup group{Lamp(find_family(lamp.family, lamp.load_law), lamp.parameters), lamp.count};
  const DimmingCurve curve = dimming_curve(triac(), Mode::leading_edge, std::span(&group, 1), {.light = false});
  double full_w = 0.0;  // a reservoir keeps a triac from latching when it is fired early: not at the highest setting
  for (const DimmingPoint& down : curve.falling) full_w = std::max(full_w, down.power_w);
  double apart = 0.0;
  for (const DimmingPoint& up : curve.rising) {
    for (const DimmingPoint& down : curve.falling) {
      if (up.setting == down.setting && up.steady && down.steady) {
        apart = std::max(apart, std::abs(up.power_w - down.power_w) / full_w);
      }
    }
  }
  std::printf("%s: the sweeps are at most %.3f %% of most power apart\n", lamp.name, 100.0 * apart);
  EXPECT_LT(apart, 0.01);
  EXPECT_LT(range_of(curve).hysteresis(), 1.0);

  OperatingCase point;
  point.channel = triac();
  point.lamps = {group};
  point.mode = Mode::leading_edge;
  point.setting_deg = lamp.conduction_deg;
  DrivenChannel running(path_of(point.channel, point.supply_v), point.lamps);
  running.steady({Drive::leading_edge, 100.0});
  const double cold_w = power_from(point, {}, 8);
  const double running_w = power_from(point, running.state(), 8);
  std::printf("%s in ngspice: %.3f W from cold, %.3f W from running\n", lamp.name, cold_w, running_w);
  EXPECT_NEAR(cold_w, running_w, 0.01 * std::max(cold_w, running_w));
}

INSTANTIATE_TEST_SUITE_P(
    Lamps, NoMemory,
    testing::Values(
        Memory{
            "ConstantPower", "rectifier_capacitor", "constant_power", {20.0, 0.0, 2e-8, 1.6, 5e-6, 1.0, 8.0}, 6, 60.0},
        Memory{"LedString",
               "rectifier_capacitor",
               "led_string",
               {15.0, 0.0, 4.7e-8, 1.6, 4.7e-6, 1.0, 200.0, 1500.0},
               6,
               45.0},
        Memory{"Corrected", "corrected_driver", "", {6e-4, 1.5e-7, 6.0, 12.0, 15.0, 0.01}, 4, 40.0},
        Memory{"FastFilament", "filament", "", {66.0, 9.8e-13, 2e-4, 0.5, 1e-4, 0.0}, 1, 40.0}),
    [](const auto& info) { return std::string(info.param.name); });

}  // namespace
}  // namespace lampload::test::hysteresis_test
