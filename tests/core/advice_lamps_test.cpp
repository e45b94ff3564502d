// Trade outcomes for filaments and lamps with a reservoir, and counts against the simulation at N and N + 1.

#include <gtest/gtest.h>

#include <algorithm>

#include "core/advice/recommendation.h"
#include "core/circuit/drive.h"

namespace lampload::advice_lamps_test {
namespace {

Lamp filament() { return {find_family("filament", ""), {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}}; }

Lamp reservoir() {
  return {find_family("rectifier_capacitor", "led_string"), {15.0, 0.0, 0.0, 1.6, 4.7e-6, 1.0, 200.0, 1500.0}};
}

LampEvidence known(Lamp lamp) {
  LampEvidence evidence;
  const std::size_t n = lamp.parameters().size();
  evidence.name = "lamp";
  evidence.covariance.assign(n * n, 0.0);
  evidence.lower_95 = evidence.upper_95 = lamp.parameters();
  evidence.identified.assign(n, true);
  evidence.label_dimmable = true;
  evidence.lamp = std::move(lamp);
  return evidence;
}

Channel dimmer() {
  Channel channel;
  channel.supply.source_resistance_ohm = 0.4;
  channel.supply.source_inductance_h = 796e-6;
  channel.output.edges = {Edge::leading, Edge::trailing};
  channel.output.on_resistance_ohm = 0.1;
  channel.output.rated_current_a = 2.0;
  channel.output.repetitive_peak_current_a = 10.0;
  channel.output.surge_peak_current_a = 60.0;
  channel.output.min_conduction_deg = 60.0;
  channel.output.max_conduction_deg = 160.0;
  return channel;
}

TEST(RecommendLamps, ReservoirGetsATrailingEdge) {
  const Recommendation answer = recommend(known(reservoir()), dimmer());
  EXPECT_EQ(answer.mode, Mode::trailing_edge);
  EXPECT_GE(answer.max_lamps, 1);
}

TEST(RecommendLamps, FilamentGetsAnEdge) {
  const Recommendation answer = recommend(known(filament()), dimmer());
  EXPECT_TRUE(answer.mode == Mode::leading_edge || answer.mode == Mode::trailing_edge);
}

// A reservoir is full long before the middle of the interval: no number of them holds a triac.
TEST(RecommendLamps, ReservoirDoesNotHoldATriac) {
  Channel channel = dimmer();
  channel.output.edges = {Edge::leading};
  channel.output.switch_kind = SwitchKind::triac;
  channel.output.holding_current_a = 0.035;
  channel.output.min_conduction_deg = 120.0;
  Lamp lamp = reservoir();
  std::vector<double> small = lamp.parameters();
  small[6] = 50.0;  // a string that never pulls the reservoir down to the line in the middle of the interval
  small[7] = 1e5;
  const Recommendation answer = recommend(known(Lamp(lamp.family(), small)), channel);
  EXPECT_EQ(answer.mode, Mode::on_off);
}

TEST(RecommendLamps, ZeroCrossingRaisesTheCountOfReservoirs) {
  Channel channel = dimmer();
  channel.output.kind = OutputKind::relay;
  channel.output.switch_kind = SwitchKind::relay;
  const Recommendation anywhere = recommend(known(reservoir()), channel);
  channel.output.zero_cross_turn_on = true;
  const Recommendation crossing = recommend(known(reservoir()), channel);
  EXPECT_EQ(anywhere.limited_by, "surge_peak");
  EXPECT_GT(crossing.max_lamps, anywhere.max_lamps);
}

// Whatever is not known of the lamp lowers the count, never raises it.
TEST(RecommendLamps, UncertaintyLowersTheCount) {
  LampEvidence sure = known(reservoir());
  LampEvidence unsure = sure;
  unsure.identified[0] = false;
  unsure.lower_95[0] = 5.0;
  unsure.upper_95[0] = 40.0;
  const Recommendation a = recommend(sure, dimmer());
  const Recommendation b = recommend(unsure, dimmer());
  EXPECT_LE(b.max_lamps, a.max_lamps);
  EXPECT_TRUE(std::any_of(b.cautions.begin(), b.cautions.end(), [](const std::string& text) {
    return text.find("series_resistance_ohm") != std::string::npos;
  }));
}

TEST(RecommendLamps, SurgeCountHoldsAtNAndFailsAboveIt) {
  Channel channel;
  channel.output.kind = OutputKind::relay;
  channel.output.switch_kind = SwitchKind::relay;
  channel.supply.source_resistance_ohm = 0.4;
  channel.supply.source_inductance_h = 796e-6;
  channel.output.surge_peak_current_a = 60.0;
  for (const Lamp& lamp : {filament(), reservoir()}) {
    const int n = recommend(known(lamp), channel).max_lamps_nominal;
    double at_n = 0.0;
    double above = 0.0;
    for (double phase_deg = 0.0; phase_deg < 180.0; phase_deg += 2.0) {
      const LampGroup group{lamp, n};
      const LampGroup more{lamp, n + 1};
      at_n = std::max(at_n, turn_on(path_of(channel, 230.0), std::span(&group, 1), phase_deg).peak_a);
      above = std::max(above, turn_on(path_of(channel, 230.0), std::span(&more, 1), phase_deg).peak_a);
    }
    EXPECT_LE(at_n, 60.0 * 1.005) << lamp.family().name << " " << n;
    EXPECT_GT(above, 60.0 * 0.995) << lamp.family().name << " " << n;
  }
}

}  // namespace
}  // namespace lampload::advice_lamps_test
