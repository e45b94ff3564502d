// Harmonic groups against the formula of IEC 61000-4-7 (from memory of its clause on groups: squares of the components
// nearest to a harmonic, the two outermost by half), worked out by hand for signals of known components.
#include "core/waveform/harmonic_groups.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

namespace lampload::waveform_harmonic_groups_test {
namespace {

struct Component {
  double hz;
  double rms;
};

std::vector<double> signal_of(const std::vector<Component>& components, double rate_hz, double duration_s) {
  std::vector<double> values(static_cast<std::size_t>(rate_hz * duration_s));
  for (std::size_t k = 0; k < values.size(); ++k) {
    const double time = static_cast<double>(k) / rate_hz;
    for (const Component& one : components) {
      values[k] += std::numbers::sqrt2 * one.rms * std::sin(2.0 * std::numbers::pi * one.hz * time + one.hz);
    }
  }
  return values;
}

HarmonicGroups groups_of(const std::vector<Component>& components, double mains_hz, double rate_hz, double duration_s) {
  const auto values = signal_of(components, rate_hz, duration_s);
  const auto cycles = static_cast<std::size_t>(std::floor(duration_s * mains_hz + 1e-6));
  return harmonic_groups(values, {0, rate_hz / mains_hz, cycles}, mains_hz);
}

TEST(HarmonicGroups, OfHarmonicsAloneAreTheHarmonics) {
  for (const double mains_hz : {50.0, 60.0}) {
    const HarmonicGroups found =
        groups_of({{mains_hz, 1.0}, {3 * mains_hz, 0.4}, {39 * mains_hz, 0.02}}, mains_hz, 30e3, 1.0);
    EXPECT_EQ(found.cycles, mains_hz < 55.0 ? 10U : 12U);
    EXPECT_EQ(found.windows, 5U);
    for (std::size_t order = 1; order <= kHighestHarmonic; ++order) {
      const double truth = order == 1 ? 1.0 : order == 3 ? 0.4 : order == 39 ? 0.02 : 0.0;
      EXPECT_NEAR(found.rms[order], truth, 2e-4) << order;
    }
  }
}

// 10 cycles of 50 Hz: components every 5 Hz. 160 and 165 Hz belong to the third, 175 Hz half to the third and half to
// the fourth, 185 Hz to the fourth.
TEST(HarmonicGroups, TakeWhatStandsBetween) {
  const HarmonicGroups found = groups_of(
      {{50.0, 1.0}, {150.0, 0.3}, {160.0, 0.1}, {165.0, 0.08}, {175.0, 0.06}, {185.0, 0.05}}, 50.0, 20e3, 0.4);
  EXPECT_EQ(found.windows, 2U);
  EXPECT_NEAR(found.rms[3], std::sqrt(0.09 + 0.01 + 0.0064 + 0.5 * 0.0036), 1e-4);
  EXPECT_NEAR(found.rms[4], std::sqrt(0.5 * 0.0036 + 0.0025), 1e-4);
  EXPECT_NEAR(found.rms[5], 0.0, 1e-4);
}

// 12 cycles of 60 Hz: 210 Hz stands half way between the third and the fourth.
TEST(HarmonicGroups, HalvesAreHalvedAtSixtyHertzToo) {
  const HarmonicGroups found = groups_of({{60.0, 1.0}, {210.0, 0.1}}, 60.0, 24e3, 0.2);
  EXPECT_NEAR(found.rms[3], 0.1 / std::numbers::sqrt2, 1e-4);
  EXPECT_NEAR(found.rms[4], 0.1 / std::numbers::sqrt2, 1e-4);
}

TEST(HarmonicGroups, FewerCyclesMakeOneWindow) {
  const HarmonicGroups found = groups_of({{50.0, 1.0}, {250.0, 0.2}}, 50.0, 20e3, 0.06);
  EXPECT_EQ(found.cycles, 3U);
  EXPECT_EQ(found.windows, 1U);
  EXPECT_NEAR(found.rms[5], 0.2, 1e-4);
  EXPECT_NEAR(found.rms[3], 0.0, 1e-4);
}

// 1 kS/s: nothing above the ninth harmonic has its whole group below half of the rate.
TEST(HarmonicGroups, WhatTheRateDoesNotShowIsZero) {
  const HarmonicGroups found = groups_of({{50.0, 1.0}, {450.0, 0.2}}, 50.0, 1e3, 0.2);
  EXPECT_NEAR(found.rms[9], 0.2, 1e-3);
  for (std::size_t order = 10; order <= kHighestHarmonic; ++order) EXPECT_EQ(found.rms[order], 0.0);
}

}  // namespace
}  // namespace lampload::waveform_harmonic_groups_test
