// Operation that does not repeat from half cycle to half cycle: a triac that holds in one and not in the next.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "core/advice/dimming.h"
#include "core/circuit/drive.h"

namespace lampload::circuit_misfire_test {
namespace {

Channel triac() {
  Channel channel;
  channel.output.switch_kind = SwitchKind::triac;
  channel.output.edges = {Edge::leading};
  channel.supply.source_resistance_ohm = 0.4;
  channel.supply.source_inductance_h = 0.3e-3;
  return channel;
}

// Told soon, and by what the channel really does: waiting shows the same current over many half cycles, and the same
// highest one.
TEST(Misfire, IsToldByWhatItsHalfCyclesDoTogether) {
  Channel channel = triac();
  channel.supply.source_inductance_h = 796e-6;
  channel.output.holding_current_a = 0.035;
  channel.output.choke_h = 100e-6;
  channel.output.snubber_f = 100e-9;
  channel.output.snubber_ohm = 100.0;
  const LampGroup lamps{
      Lamp(find_family("rectifier_capacitor", "led_string"), {72.8, 0.0, 0.0, 1.5, 2.193e-6, 0.0, 245.4, 2578.0}), 20};
  const Path path = path_of(channel, 253.0);
  const Operation operation{Drive::leading_edge, 137.5};
  const SteadyFigures figures = DrivenChannel(path, std::span(&lamps, 1)).steady(operation);
  EXPECT_FALSE(figures.periodic);
  EXPECT_LE(figures.half_cycles, 32);
  DrivenChannel waited(path, std::span(&lamps, 1));
  double square_a2 = 0.0, peak_a = 0.0;
  constexpr int settling = 60, watched = 60;
  for (int n = 0; n < settling + watched; ++n) {
    const SteadyFigures one = waited.half_cycle(operation);
    if (n < settling) continue;
    square_a2 += one.rms_a * one.rms_a / watched;
    peak_a = std::max(peak_a, one.peak_a);
  }
  const double rms_a = std::sqrt(square_a2);
  EXPECT_NEAR(figures.rms_a, rms_a, 0.03 * rms_a);
  EXPECT_NEAR(figures.peak_a, peak_a, 0.03 * peak_a);
}

// A cut into a clamp, conduction a little below and above where the triac lets go before the next firing.
TEST(Misfire, TheCurveOfAWindingBehindAClampIsFoundInAllItsSettings) {
  Channel channel = triac();
  channel.output.clamp_voltage_v = 600.0;
  channel.output.holding_current_a = 0.02;
  const LampGroup winding{Lamp(find_family("inductive", ""), {100.0, 1.0}), 1};
  for (const auto& [low, high] : {std::pair{105.0, 110.0}, std::pair{10.0, 180.0}}) {
    channel.output.min_conduction_deg = low;
    channel.output.max_conduction_deg = high;
    const DimmingCurve curve = dimming_curve(channel, Mode::leading_edge, std::span(&winding, 1), {});
    EXPECT_EQ(curve.rising.front().setting, low);
    EXPECT_EQ(curve.rising.back().setting, high);
    EXPECT_LE(curve.rising.size(), 150U);
    const auto steady_at = [&](double setting) {
      const auto point = std::find_if(curve.rising.begin(), curve.rising.end(),
                                      [&](const DimmingPoint& p) { return p.setting >= setting; });
      return point->steady;
    };
    EXPECT_TRUE(steady_at(105.0));
    EXPECT_FALSE(steady_at(109.9)) << "lets go of every other half cycle";
  }
}

}  // namespace
}  // namespace lampload::circuit_misfire_test
