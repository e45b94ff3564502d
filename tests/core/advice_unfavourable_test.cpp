// The lamps at the unfavourable ends of what is known.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/advice/load_figures.h"
#include "core/advice/unfavourable.h"

namespace lampload::advice_unfavourable_test {
namespace {

constexpr OperatingPoint mains{230.0, 50.0};

struct Range {
  double least = 1e300, most = 0.0;
};

Range range_of(const LampEvidence& known, std::size_t figure) {
  Range range;
  for (const Lamp& lamp : unfavourable_lamps(known, mains)) {
    const double value = load_figures(lamp, mains).at(figure).value;
    range.least = std::min(range.least, value);
    range.most = std::max(range.most, value);
  }
  return range;
}

LampEvidence evidence_of(const Lamp& lamp, std::vector<double> covariance) {
  LampEvidence known;
  known.lamp = lamp;
  known.covariance = std::move(covariance);
  known.identified.assign(lamp.parameters().size(), true);
  known.lower_95 = lamp.parameters();
  known.upper_95 = lamp.parameters();
  return known;
}

// Resistance and inductance known independently of each other to 10 and 20 % (two standard uncertainties): the current
// U / |Z| has the relative sensitivities R^2/Z^2 and X^2/Z^2, which add by their squares (JCGM 100, 5.1.2).
TEST(Unfavourable, IndependentContributionsAddByTheirSquares) {
  constexpr double ohm = 400.0;
  constexpr double henry = 1.2;
  const Lamp winding(find_family("inductive", ""), {ohm, henry});
  const LampEvidence known = evidence_of(winding, {0.05 * 0.05, 0.0, 0.0, 0.1 * 0.1});
  const double reactance = 2.0 * std::numbers::pi * 50.0 * henry;
  const double square = ohm * ohm + reactance * reactance;
  const double expected = std::hypot(0.1 * ohm * ohm / square, 0.2 * reactance * reactance / square);
  const double central = load_figures(winding, mains).at(0).value;
  const Range current = range_of(known, 0);
  EXPECT_NEAR(std::log(current.most / central), expected, 0.08 * expected);
  EXPECT_NEAR(std::log(central / current.least), expected, 0.08 * expected);
}

// A filament of which only a dimmed capture is known: cold resistance, radiation and heat capacity may all be far off,
// but only together, so that the power is right. What it draws uncut is known to 2 % all the same.
TEST(Unfavourable, WhatCapturesTieTogetherMovesTogether) {
  const Lamp filament(find_family("filament", ""), {40.9, 9.37e-13, 1.61e-3, 0.5, 0.0, 0.0});
  std::vector<double> covariance(36, 0.0);
  const double values[3][3] = {{0.0225, 0.0825, 0.0555}, {0.0825, 0.306, 0.206}, {0.0555, 0.206, 0.142}};
  for (std::size_t i = 0; i < 3; ++i) {
    for (std::size_t j = 0; j < 3; ++j) covariance[6 * i + j] = values[i][j];
  }
  LampEvidence known = evidence_of(filament, covariance);
  known.identified = {true, false, false, false, false, false};
  known.lower_95 = {30.5, 3.17e-13, 7.68e-4, 0.108, 0.0, 0.0};
  known.upper_95 = {54.9, 2.77e-12, 3.36e-3, 0.892, 0.0316, 0.0};
  const double central = load_figures(filament, mains).at(0).value;
  const Range current = range_of(known, 0);
  EXPECT_LT(current.most, 1.04 * central);
  EXPECT_GT(current.least, 0.96 * central);
  const Range surge = range_of(known, 2);
  EXPECT_GT(surge.most, 1.15 * load_figures(filament, mains).at(2).value);
  // A cold resistance at the end of its interval would be that of tungsten beyond its melting point (NIST-JANAF).
  for (const Lamp& lamp : unfavourable_lamps(known, mains)) {
    for (const DerivedFigure& figure : lamp.family().derived(lamp.parameters(), mains)) {
      if (figure.name == "hot_temperature_k") {
        EXPECT_LT(figure.value, 3695.0);
      }
    }
  }
}

// Of a filament that was captured uncut alone cold resistance, radiation and heat capacity may be off by factors, along
// a curve: at the end of the straight line it would draw twice the current that was measured. Not so where the curve
// goes.
TEST(Unfavourable, FarEndsKeepTheCurrentThatWasMeasured) {
  const Lamp filament(find_family("filament", ""), {108.0, 1.923e-12, 6.55e-4, 0.5, 0.0, 0.0});
  std::vector<double> covariance(36, 0.0);
  const double along[3] = {0.775, 2.935, 0.855};
  for (std::size_t i = 0; i < 3; ++i) {
    for (std::size_t j = 0; j < 3; ++j) covariance[6 * i + j] = along[i] * along[j] + (i == j ? 1e-4 : 0.0);
  }
  LampEvidence known = evidence_of(filament, covariance);
  known.identified.assign(6, false);
  known.lower_95 = {23.6, 6.1e-15, 1.2e-4, 0.5, 0.0, 0.0};
  known.upper_95 = {494.0, 6.1e-10, 3.5e-3, 0.5, 0.0, 0.0};
  const Lamp straight(find_family("filament", ""), {22.9, 5.4e-15, 1.19e-4, 0.5, 0.0, 0.0});
  const double central = load_figures(filament, mains).at(0).value;
  ASSERT_GT(load_figures(straight, mains).at(0).value, 1.9 * central);
  const Range current = range_of(known, 0);
  EXPECT_LT(current.most, 1.06 * central);
  EXPECT_GT(current.least, 0.94 * central);
  const Range surge = range_of(known, 2);
  EXPECT_GT(surge.most, 1.3 * load_figures(filament, mains).at(2).value);
  EXPECT_LT(surge.least, 0.7 * load_figures(filament, mains).at(2).value);
}

// An input capacitor that no capture asks for and none rules out takes a surge where a leading edge fires.
TEST(Unfavourable, APartThatMayBeThereCountsWhereItLoadsMore) {
  const Lamp driver(find_family("linear_driver", "two_taps"), {1.6, 0.0, 1e6, 113.0, 0.03, 264.0, 0.042});
  LampEvidence known = evidence_of(driver, std::vector<double>(49, 0.0));
  known.upper_95[1] = 7.5e-9;
  const double central = load_figures(driver, mains).at(1).value;
  const Range peak = range_of(known, 1);
  EXPECT_GT(peak.most, 2.0 * central);
  EXPECT_GT(peak.least, 0.999 * central);
}

TEST(Unfavourable, WhatNoCaptureSaysMovesWithinItsIntervalUpToAFactorOfTen) {
  const Lamp resistor(find_family("resistor", ""), {800.0});
  LampEvidence known = evidence_of(resistor, {0.0});
  known.identified = {false};
  known.lower_95 = {1.0};
  known.upper_95 = {1200.0};
  const double central = load_figures(resistor, mains).at(0).value;
  const Range current = range_of(known, 0);
  EXPECT_NEAR(current.most, 10.0 * central, 0.1 * central);
  EXPECT_NEAR(current.least, central / 1.5, 0.01 * central);
}

}  // namespace
}  // namespace lampload::advice_unfavourable_test
