// Several channels on one breaker: sums, starts and staggers by closed forms.

#include "core/advice/shared_breaker.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "core/advice/start_envelope.h"

namespace lampload::advice_breaker_test {
namespace {

constexpr double peak_v = 230.0 * std::numbers::sqrt2;
constexpr double half_s = 0.01;

Lamp winding(double ohm, double henry) { return {find_family("inductive", ""), {ohm, henry}}; }

/// A winding switched on at the rising zero crossing (closed form of the series R-L circuit: the steady sine and an
/// exponential that makes the current begin at 0), highest magnitude in each half cycle.
std::vector<double> winding_envelope(double ohm, double henry, int half_cycles) {
  const double omega = 100.0 * std::numbers::pi;
  const std::complex<double> impedance(ohm, omega * henry);
  const double amplitude = peak_v / std::abs(impedance);
  const double lag = std::arg(impedance);
  std::vector<double> envelope;
  for (int k = 0; k < half_cycles; ++k) {
    double highest = 0.0;
    for (int i = 0; i <= 2000; ++i) {
      const double t = half_s * (k + i / 2000.0);
      highest = std::max(
          highest, std::abs(amplitude * (std::sin(omega * t - lag) + std::sin(lag) * std::exp(-t * ohm / henry))));
    }
    envelope.push_back(highest);
  }
  return envelope;
}

Path plain_path() {
  Path path;
  path.supply_peak_v = peak_v;
  path.resistance_ohm = 1e-3;
  path.on.slope_ohm = 1e-3;
  path.off = {1000.0, 1.0};
  return path;
}

TEST(StartEnvelope, OfAWindingFallsAsItsClosedForm) {
  const LampGroup lamps{winding(12.0, 0.4), 3};
  const std::vector<double> envelope = start_envelope(plain_path(), std::span(&lamps, 1), 0.0, 12);
  const std::vector<double> expected = winding_envelope(12.0, 0.4, 12);
  ASSERT_EQ(envelope.size(), 12U);
  for (std::size_t k = 0; k < envelope.size(); ++k) {
    EXPECT_NEAR(envelope[k], 3.0 * expected[k], 0.01 * 3.0 * expected[0]) << "half cycle " << k;
  }
  EXPECT_GT(envelope[0], 1.3 * envelope[11]);
}

TEST(StartEnvelope, SumsRunOnAtTheirLastValue) {
  const std::vector<std::vector<double>> two = {{10.0, 6.0, 2.0}, {8.0, 1.0}};
  EXPECT_EQ(highest_sum(two, 0), 18.0);
  EXPECT_EQ(highest_sum(two, 1), 14.0);  // 10 | 6+8 | 2+1
  EXPECT_EQ(highest_sum(two, 2), 10.0);  // 10 | 6 | 2+8 | 2+1
  EXPECT_EQ(highest_sum(two, 9), 10.0);
}

/// A channel of one lamp with currents as a check would have found them.
struct OneChannel {
  PlannedChannel planned;
  LoadCheck check;
  OneChannel(const std::string& name, const Lamp& lamp, double rms_a, double inrush_a) {
    planned.channel.name = name;
    planned.channel.output.kind = OutputKind::relay;
    LoadItem item;
    item.evidence.name = "lamp of " + name;
    item.evidence.lamp = lamp;
    planned.lamps.push_back(item);
    check.worst.rms_a = rms_a;
    check.worst.inrush.peak_a = inrush_a;
    check.nominal.rms_a = 0.8 * rms_a;
    check.nominal.inrush.peak_a = 0.8 * inrush_a;
  }
};

BreakerVerdict judged(const PlannedBreaker& breaker, const std::vector<OneChannel>& channels) {
  std::vector<CheckedChannel> list;
  for (const OneChannel& one : channels) list.push_back({&one.planned, &one.check});
  return judge_breaker(breaker, list);
}

const PlannedBreaker b10{"boathouse board", "F1", Breaker{'B', 10.0}, 0.0};
constexpr double b10_limit_a = 3.0 * 10.0 * std::numbers::sqrt2;  // IEC 60898-1: curve B from 3 times the rating

TEST(SharedBreaker, LoadsAreAdded) {
  const Lamp lamp(find_family("resistor", ""), {100.0});
  const BreakerVerdict holds = judged(b10, {{"a", lamp, 4.0, 5.0}, {"b", lamp, 5.5, 5.0}});
  EXPECT_TRUE(holds.holds);
  EXPECT_DOUBLE_EQ(holds.load.value, 9.5);
  EXPECT_DOUBLE_EQ(holds.load.nominal_value, 7.6);
  EXPECT_DOUBLE_EQ(holds.load.limit, 10.0);
  const BreakerVerdict fails = judged(b10, {{"a", lamp, 5.0, 5.0}, {"b", lamp, 5.5, 5.0}});
  EXPECT_FALSE(fails.holds);
  EXPECT_FALSE(fails.load.holds);
  EXPECT_TRUE(fails.load.holds_nominal);
  ASSERT_EQ(fails.suggestions.size(), 1U);
  EXPECT_EQ(fails.suggestions[0], "move a channel to another breaker");
}

TEST(SharedBreaker, TheStaggerIsTheLeastThatKeepsTheLimit) {
  const Lamp lamp = winding(12.0, 0.4);
  const std::vector<double> shape = winding_envelope(12.0, 0.4, 60);
  const double inrush_a = 16.0;
  std::vector<OneChannel> channels = {
      {"a", lamp, 3.0, inrush_a}, {"b", lamp, 3.0, inrush_a}, {"c", lamp, 3.0, inrush_a}};
  const BreakerVerdict at_once = judged(b10, channels);
  ASSERT_EQ(at_once.starts.size(), 1U);
  const StartVerdict& start = at_once.starts[0];
  EXPECT_FALSE(at_once.holds);
  EXPECT_NEAR(start.together_a, 48.0, 1e-9);
  EXPECT_NEAR(start.inrush.value, 48.0, 1e-9);
  EXPECT_NEAR(start.inrush.limit, b10_limit_a, 1e-9);
  EXPECT_TRUE(start.inrush.holds_nominal) << "0.8 times 48 A";

  // by the closed form: highest of the half cycles with starts k half cycles apart
  const auto highest = [&](std::size_t apart) {
    double most = 0.0;
    for (std::size_t slot = 0; slot < 2 * apart + 60; ++slot) {
      double sum = 0.0;
      for (std::size_t i = 0; i < 3; ++i) {
        if (slot >= i * apart) sum += inrush_a / shape[0] * shape[std::min<std::size_t>(slot - i * apart, 59)];
      }
      most = std::max(most, sum);
    }
    return most;
  };
  std::size_t apart = 1;
  while (highest(apart) > b10_limit_a) ++apart;
  ASSERT_GT(apart, 1U);
  ASSERT_TRUE(start.least_stagger_s);
  EXPECT_NEAR(*start.least_stagger_s, static_cast<double>(apart) * half_s, 1e-12);
  ASSERT_FALSE(at_once.suggestions.empty());
  EXPECT_NE(at_once.suggestions[0].find("in this order: a, b, c"), std::string::npos) << at_once.suggestions[0];

  PlannedBreaker staggered = b10;
  staggered.stagger_s = *start.least_stagger_s;
  const BreakerVerdict apart_enough = judged(staggered, channels);
  EXPECT_TRUE(apart_enough.holds);
  EXPECT_NEAR(apart_enough.starts[0].inrush.value, highest(apart), 0.02 * b10_limit_a);
  staggered.stagger_s -= half_s;
  EXPECT_FALSE(judged(staggered, channels).holds);
}

TEST(SharedBreaker, ASlowerCurveIsSuggestedWhereNoStaggerHelps) {
  const Lamp lamp(find_family("resistor", ""), {100.0});  // its inrush is its running current
  const BreakerVerdict verdict = judged(b10, {{"a", lamp, 4.0, 25.0}, {"b", lamp, 4.0, 25.0}});
  EXPECT_FALSE(verdict.holds);
  EXPECT_FALSE(verdict.starts[0].least_stagger_s);
  ASSERT_EQ(verdict.suggestions.size(), 2U);
  EXPECT_NE(verdict.suggestions[0].find("a breaker of curve C"), std::string::npos) << verdict.suggestions[0];
  EXPECT_NE(verdict.suggestions[0].find("70.7 A"), std::string::npos) << verdict.suggestions[0];
  EXPECT_NE(verdict.suggestions[1].find("move a channel to another breaker"), std::string::npos);
}

TEST(SharedBreaker, ChannelsThatStartOnTheirOwnFindTheOthersRunning) {
  const Lamp lamp = winding(12.0, 0.4);
  const std::vector<double> shape = winding_envelope(12.0, 0.4, 60);
  std::vector<OneChannel> channels = {{"a", lamp, 3.0, 25.0}, {"b", lamp, 3.0, 25.0}};
  EXPECT_FALSE(judged(b10, channels).holds) << "50 A together";
  channels[1].planned.starts_with = "evening";
  const BreakerVerdict verdict = judged(b10, channels);
  ASSERT_EQ(verdict.starts.size(), 2U);
  const double expected = 25.0 + 25.0 * shape.back() / shape.front();
  EXPECT_NEAR(verdict.starts[0].inrush.value, expected, 0.02 * expected);
  EXPECT_EQ(verdict.holds, expected <= b10_limit_a);
  EXPECT_EQ(verdict.starts[1].channels, std::vector<std::string>{"b"});
}

TEST(SharedBreaker, ALampWithoutACircuitKeepsItsInrush) {
  const Lamp lamp = winding(12.0, 0.4);
  std::vector<OneChannel> channels = {{"a", lamp, 3.0, 25.0}, {"b", lamp, 3.0, 25.0}};
  channels[0].planned.lamps[0].evidence.lamp.reset();
  const BreakerVerdict verdict = judged(b10, channels);
  EXPECT_FALSE(verdict.starts[0].least_stagger_s) << "nobody knows when its inrush is over";
}

TEST(SharedBreaker, DcChannelsAreNamedAsNotChecked) {
  const Lamp lamp(find_family("resistor", ""), {100.0});
  std::vector<OneChannel> channels = {{"racks", lamp, 4.0, 25.0}, {"fan", lamp, 1.0, 2.0}};
  channels[0].planned.channel.output.kind = OutputKind::dc_pwm;
  const BreakerVerdict verdict = judged(b10, channels);
  EXPECT_DOUBLE_EQ(verdict.load.value, 1.0);
  EXPECT_EQ(verdict.channels.size(), 2U);
  ASSERT_EQ(verdict.not_checked.size(), 1U);
  EXPECT_EQ(verdict.not_checked[0], "racks: what its DC supply draws from the mains, running and at its start");
}

}  // namespace
}  // namespace lampload::advice_breaker_test
