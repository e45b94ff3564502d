// A lamp with an inrush limiter that is switched off and on again: what running leaves of the limiter, and the counts.

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "core/advice/recommendation.h"
#include "core/circuit/warm_start.h"

namespace lampload::advice_inrush_limiter_test {
namespace {

constexpr double fuse_ohm = 4.7;
constexpr double cold_ohm = 33.0;
constexpr double b_k = 3000.0;
constexpr double dissipation_w_per_k = 4e-3;

double limiter_ohm(double temperature_k) { return cold_ohm * std::exp(b_k * (1.0 / temperature_k - 1.0 / 298.15)); }

/// 10 W; with a series resistance alone, or with a limiter.
Lamp lamp(double series_ohm, bool limited) {
  std::vector<double> values = {series_ohm, 0.0, 0.0, 1.6, 8e-6, 0.0, 10.0};
  if (limited) values.insert(values.end(), {cold_ohm, b_k, dissipation_w_per_k, 30.0, 0.0, 0.0});
  return {find_family("rectifier_capacitor", "constant_power"), values};
}

Channel relay() {
  Channel channel;
  channel.supply.tolerance_percent = 0.0;
  channel.supply.source_resistance_ohm = 0.4;
  channel.supply.source_inductance_h = 100e-6;
  channel.output.kind = OutputKind::relay;
  channel.output.switch_kind = SwitchKind::relay;
  channel.output.surge_peak_current_a = 100.0;
  return channel;
}

LampEvidence known(const Lamp& lamp) {
  LampEvidence evidence;
  evidence.name = "clubroom pendant";
  evidence.lamp = lamp;
  evidence.label_dimmable = true;
  return evidence;
}

TEST(WarmStart, TheLimiterIsAsHotAsItsOwnLossKeepsIt) {
  const Path path = path_of(relay(), 230.0);
  const Lamp limited = lamp(fuse_ohm, true);
  const LampGroup group{limited, 1};
  double hottest = 0.0;
  for (const Operation& operation : std::array{Operation{}, Operation{Drive::leading_edge, 90.0}}) {
    const double temperature_k = warm_start(path, limited, std::span(&operation, 1)).state.at(2);
    const double rms_a = DrivenChannel(path, std::span(&group, 1)).steady(operation).rms_a;
    // the heat balance by hand
    const double rise_k = rms_a * rms_a * limiter_ohm(temperature_k) / dissipation_w_per_k;
    EXPECT_NEAR(temperature_k - 298.15, rise_k, 0.03 * rise_k);
    EXPECT_GT(rise_k, 10.0);
    hottest = std::max(hottest, temperature_k);
  }
  const std::array both{Operation{}, Operation{Drive::leading_edge, 90.0}};
  EXPECT_DOUBLE_EQ(warm_start(path, limited, both).state.at(2), hottest);
  EXPECT_EQ(warm_start(path, limited, both).hottest, 1U);
  // everything else is at rest
  EXPECT_EQ(warm_start(path, limited, both).state.at(0), 0.0);
}

TEST(WarmStart, OtherLampsStartAtRest) {
  const Operation operation;
  const Path path = path_of(relay(), 230.0);
  EXPECT_TRUE(warm_start(path, lamp(fuse_ohm, false), std::span(&operation, 1)).state.empty());
  const Lamp filament(find_family("filament", ""), {66.0, 9.8e-13, 2e-3, 0.5, 0.0, 0.0});
  EXPECT_TRUE(warm_start(path, filament, std::span(&operation, 1)).state.empty());
}

// Without the restart the cold limiter would allow a multiple of what holds.
TEST(RecommendInrushLimiter, CountsOnTheWarmLimiter) {
  const Channel channel = relay();
  const Operation running;
  const double temperature_k =
      warm_start(path_of(channel, 230.0), lamp(fuse_ohm, true), std::span(&running, 1)).state.at(2);
  const Recommendation limited = recommend(known(lamp(fuse_ohm, true)), channel);
  const Recommendation as_warm = recommend(known(lamp(fuse_ohm + limiter_ohm(temperature_k), false)), channel);
  const Recommendation as_cold = recommend(known(lamp(fuse_ohm + cold_ohm, false)), channel);
  EXPECT_EQ(limited.limited_by, "surge_peak");
  EXPECT_LE(std::abs(limited.max_lamps_nominal - as_warm.max_lamps_nominal), 1);
  EXPECT_LE(std::abs(limited.max_lamps - as_warm.max_lamps), 1);
  EXPECT_GT(as_cold.max_lamps, limited.max_lamps * 5 / 4);

  const auto& constraints = limited.modes.front().constraints;
  const auto surge = std::find_if(constraints.begin(), constraints.end(),
                                  [](const ConstraintResult& one) { return one.name == "surge_peak"; });
  ASSERT_NE(surge, constraints.end());
  EXPECT_NE(surge->sentence.find("switched off and on again while warm from running (ntc_temperature_k "),
            std::string::npos)
      << surge->sentence;
  const auto caution = [](const Recommendation& answer) {
    return std::find(answer.cautions.begin(), answer.cautions.end(),
                     "This lamp has an inrush limiter (NTC). It limits little while it is hot: surges are counted as "
                     "after switching off and on again at once, and are smaller from cold.") != answer.cautions.end();
  };
  EXPECT_TRUE(caution(limited));
  EXPECT_FALSE(caution(as_warm));
}

}  // namespace
}  // namespace lampload::advice_inrush_limiter_test
