// The setting at which a constraint is worst is found, not assumed: the search itself on curves whose peak is known,
// and the worst turn-on of a capacitor behind a resistance, which is not at the crest.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "core/advice/count_search.h"
#include "core/advice/peak_search.h"

namespace lampload::advice_worst_setting_test {
namespace {

constexpr double pi = std::numbers::pi;

std::vector<double> every(double step, double first, double last) {
  std::vector<double> all;
  for (double x = first; x <= last + 1e-9; x += step) all.push_back(x);
  return all;
}

TEST(PeakOf, FindsASmoothPeakBetweenThePointsOfTheGrid) {
  for (const double peak : {0.0, 3.0, 37.0, 52.4, 82.0, 97.6, 150.0, 165.0}) {
    int looks = 0;
    const auto curve = [&](double x) {
      ++looks;
      return std::cos((x - peak) * pi / 180.0) + 0.05 * std::cos(3.0 * (x - peak) * pi / 180.0);
    };
    EXPECT_NEAR(peak_of(every(15.0, 0.0, 165.0), curve, curve, 1.0), peak, 1.0);
    EXPECT_LE(looks, 12 + 11) << peak;
  }
}

// A triac that misfires beyond some angle: the curve rises up to there and drops.
TEST(PeakOf, FindsTheHighSideOfACliff) {
  const auto cliff = [](double x) { return x < 58.0 ? x : 10.0; };
  const double found = peak_of(every(10.0, 0.0, 180.0), cliff, cliff, 1.0);
  EXPECT_LT(found, 58.0);
  EXPECT_GT(found, 54.0);
}

TEST(PeakOf, ASinglePointIsTheAnswer) {
  const auto level = [](double) { return 1.0; };
  EXPECT_EQ(peak_of(std::vector<double>{90.0}, level, level, 1.0), 90.0);
}

TEST(HighestBetween, IsExactForAParabola) {
  const auto curve = [](double x) { return 3.0 - 0.01 * (x - 87.0) * (x - 87.0); };
  const std::vector<double> x{65.0, 80.0, 95.0, 110.0};
  std::vector<double> y;
  for (const double one : x) y.push_back(curve(one));
  EXPECT_NEAR(highest_between(x, y), 3.0, 1e-12);
  EXPECT_EQ(highest_between(std::vector<double>{1.0, 2.0}, std::vector<double>{5.0, 4.0}), 5.0);
}

constexpr double ohm = 50.0;
constexpr double farad = 20e-6;
constexpr double drop_v = 1.0;

/// I2t of half a cycle after closing at this phase, by the circuit's own equation in steps of half a microsecond.
double i2t(double phase_deg) {
  constexpr double dt = 0.5e-6;
  const double omega = 100.0 * pi;
  double capacitor_v = 0.0, sum = 0.0;
  for (double t = 0.0; t < 10e-3; t += dt) {
    const double drive =
        230.0 * std::numbers::sqrt2 * std::abs(std::sin(omega * (t + 0.5 * dt) + phase_deg * pi / 180.0)) - drop_v;
    const double current = std::max(0.0, drive - capacitor_v) / ohm;
    capacitor_v += current * dt / farad;
    sum += current * current * dt;
  }
  return sum;
}

// 1 ms of time constant: the voltage that still rises while the capacitor charges moves the worst phase before the
// crest.
TEST(WorstTurnOn, OfACapacitorBehindAResistanceIsWhereItsEquationSaysSo) {
  double worst_deg = 0.0;
  for (double phase = 0.0; phase < 180.0; phase += 0.25) {
    if (i2t(phase) > i2t(worst_deg)) worst_deg = phase;
  }
  ASSERT_GT(std::abs(worst_deg - 90.0), 5.0);
  Channel channel;
  channel.output.kind = OutputKind::relay;
  channel.output.switch_kind = SwitchKind::relay;
  const Lamp lamp(find_family("rectifier_capacitor", "constant_power"), {ohm, 0.0, 0.0, drop_v, farad, 0.0, 0.05});
  Load load(channel, Mode::on_off, {{230.0}, mixes_of({&lamp, 1}), {}});
  CountSearch search(load);
  Constraint heat;
  heat.name = "surge_i2t";
  heat.of_turn_on = [](const TurnOnFigures& figures) { return figures.i2t_a2s; };
  const Worst found = search.worst(heat, 1);
  EXPECT_NEAR(found.at.setting_deg, worst_deg, 1.0);
  EXPECT_NEAR(found.value, i2t(worst_deg), 5e-3 * found.value);
}

}  // namespace
}  // namespace lampload::advice_worst_setting_test
