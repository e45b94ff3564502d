// The label's power and DC tables: they narrow what captures leave open, and never speak against them.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "core/capture/read.h"
#include "core/lamp/lamp.h"
#include "fit/fit.h"
#include "fit/observations.h"
#include "tests/fit/estimate_checks.h"
#include "tests/places.h"

namespace lampload::fit_observations_test {
namespace {

using test::estimate;

const std::string samples = test::samples_folder();

struct Read {
  std::vector<Capture> captures;
  std::vector<Figures> figures;

  explicit Read(const std::vector<std::string>& files) {
    for (const std::string& file : files) {
      captures.push_back(read_capture(samples + file));
      figures.push_back(measure(captures.back()));
    }
  }
  [[nodiscard]] FitResult fit(const Nominal& nominal) const {
    FitOptions options = test::without_advice();
    options.nominal = nominal;
    return fit_lamp(captures, figures, options);
  }
};

double relative_uncertainty(const Estimate& one) { return 0.25 * (one.upper_95 - one.lower_95) / one.value; }

/// No value moved by more than a tenth of its standard uncertainty.
void expect_unmoved(const FitResult& with, const FitResult& without) {
  ASSERT_EQ(with.family, without.family);
  ASSERT_EQ(with.load_law, without.load_law);
  for (const auto list : {&FitResult::parameters, &FitResult::derived}) {
    for (std::size_t j = 0; j < (without.*list).size(); ++j) {
      const Estimate& before = (without.*list)[j];
      if (!before.identified) continue;
      EXPECT_NEAR((with.*list)[j].value, before.value, 0.1 * before.standard_uncertainty) << before.name;
    }
  }
}

const std::vector<std::string> pendant = {
    "simulated_clubroom_pendant_60w/steady.csv", "simulated_clubroom_pendant_60w/turn_on.csv",
    "simulated_clubroom_pendant_60w/leading_90deg.csv", "simulated_clubroom_pendant_60w/trailing_90deg.csv"};
const std::vector<std::string> candle = {
    "simulated_stair_candle_led_5w/steady.csv", "simulated_stair_candle_led_5w/turn_on.csv",
    "simulated_stair_candle_led_5w/leading_100deg.csv", "simulated_stair_candle_led_5w/trailing_100deg.csv"};

TEST(LabelPower, AWrongLabelMovesNothingAndIsSaid) {
  for (const auto& [files, watt] : {std::pair{pendant, 60.0}, std::pair{candle, 5.0}}) {
    const Read data(files);
    // Start values follow the label too: the comparison is with a fit that has a right one.
    Nominal right;
    right.voltage_v = 230.0;
    Nominal wrong = right;
    wrong.rated_power_w = 1.5 * watt;
    const FitResult without = data.fit(right);
    const FitResult with = data.fit(wrong);
    expect_unmoved(with, without);
    ASSERT_EQ(with.report.observations.size(), 1U);
    EXPECT_EQ(with.report.observations[0].what, "rated_power");
    EXPECT_FALSE(with.report.observations[0].counted);
    EXPECT_GT(with.report.observations[0].deviation, 2.0);
    EXPECT_NE(with.verdict.find("disagrees"), std::string::npos) << with.verdict;
  }
}

TEST(LabelPower, ALooseLabelCountsAndStillMovesNothingThatIsWellCaptured) {
  const Read data(pendant);
  Nominal nominal;
  nominal.voltage_v = 230.0;
  const FitResult without = data.fit(nominal);
  nominal.rated_power_w = 63.0;  // half its standard uncertainty off
  const FitResult with = data.fit(nominal);
  expect_unmoved(with, without);
  ASSERT_EQ(with.report.observations.size(), 1U);
  EXPECT_TRUE(with.report.observations[0].counted);
  EXPECT_EQ(with.verdict.find("disagrees"), std::string::npos) << with.verdict;
}

TEST(LabelPower, IsWeighedByItsUncertainty) {
  // ln of a resistor's power is a straight line in ln of its resistance: the mean of both, weighed by inverse variance.
  const FamilyInfo& resistor = find_family("resistor", "");
  Nominal nominal;
  nominal.rated_power_w = 90.0;
  const Figures uncut;
  for (const double sd : {0.01, 0.1, 0.3}) {
    const LampKnowledge captures{{std::log(500.0)}, {true}, {sd * sd}};
    const auto knowledge = outside_knowledge(resistor, nominal, uncut, {230.0, 50.0});
    ASSERT_EQ(knowledge.size(), 1U);
    const double by_label = std::log(230.0 * 230.0 / 90.0);
    const double weight = 1.0 / (sd * sd) + 1.0 / 0.01;
    const LampKnowledge both = combine(knowledge, resistor, captures);
    EXPECT_NEAR(both.full[0], (std::log(500.0) / (sd * sd) + by_label / 0.01) / weight, 1e-6);
    EXPECT_NEAR(both.covariance[0], 1.0 / weight, 1e-6 / weight);
    const double apart = std::abs(by_label - std::log(500.0)) / std::hypot(sd, 0.1);
    EXPECT_NEAR(compare(knowledge[0], resistor, captures).deviation, apart, 1e-5);
  }
}

TEST(LabelPower, IsLeftOutWhereItsVoltageIsNotKnown) {
  // Behind a dimmer the captures do not show what the mains have uncut.
  const Read data({"simulated_stair_candle_led_5w/trailing_100deg.csv"});
  Nominal nominal;
  nominal.rated_power_w = 5.0;
  EXPECT_TRUE(data.fit(nominal).report.observations.empty());
}

// Steady points of the sample pendant by the equations it was simulated from (sample_captures/simulator/filament.py:
// tabulated emissivity, gas losses), not by this family's law: voltage, current. The first leaves the wire cold.
const std::vector<DcPoint> pendant_at_dc = {
    {0.05, 0.00082443, {}}, {120.0, 0.183382, {}}, {160.0, 0.213952, {}}, {200.0, 0.241515, {}}, {230.0, 0.260870, {}}};

TEST(DcTable, ShowsWhatASteadyCaptureLeavesOpen) {
  const Read data({pendant.front()});
  Nominal nominal;
  nominal.voltage_v = 230.0;
  const FitResult without = data.fit(nominal);
  nominal.dc_points = pendant_at_dc;
  for (DcPoint& point : nominal.dc_points) point.uncertainty_a = 0.01 * point.current_a;  // a bench meter
  const FitResult with = data.fit(nominal);
  ASSERT_EQ(with.family, "filament");
  ASSERT_EQ(with.report.observations.size(), 1U);
  EXPECT_EQ(with.report.observations[0].what, "dc_table");
  EXPECT_TRUE(with.report.observations[0].counted) << with.report.observations[0].sentence;
  // truth.json: 60.65 Ohm
  const Estimate& cold = estimate(with, "cold_resistance_ohm");
  // The captures alone tell it to 6 or 7 %, the table to twice its own 1 % or so.
  EXPECT_LT(relative_uncertainty(cold), 0.03);
  EXPECT_LT(relative_uncertainty(cold), 0.4 * relative_uncertainty(estimate(without, "cold_resistance_ohm")));
  EXPECT_NEAR(cold.value, 60.65, 0.04 * 60.65);
  EXPECT_LT(cold.lower_95, 60.65);
  EXPECT_GT(cold.upper_95, 60.65);
}

TEST(DcTable, PointsOfOneTableWeighAsMuchAsOne) {
  const FamilyInfo& resistor = find_family("resistor", "");
  const LampKnowledge captures{{std::log(500.0)}, {true}, {0.01}};
  const auto after = [&](std::size_t points) {
    Nominal nominal;
    nominal.dc_points.assign(points, {100.0, 0.2, 0.01});  // 500 Ohm, 5 %
    return combine(outside_knowledge(resistor, nominal, {}, {}), resistor, captures).covariance[0];
  };
  EXPECT_NEAR(after(1), 1.0 / (1.0 / 0.01 + 1.0 / 0.0025), 1e-6);
  EXPECT_NEAR(after(16), after(1), 1e-9);
}

TEST(DcTable, OneOfAnotherLampIsLeftOutAndSaid) {
  const Read data(pendant);
  Nominal nominal;
  nominal.voltage_v = 230.0;
  const FitResult without = data.fit(nominal);
  nominal.dc_points = pendant_at_dc;
  for (DcPoint& point : nominal.dc_points) point.current_a *= 1.6;
  const FitResult with = data.fit(nominal);
  expect_unmoved(with, without);
  ASSERT_EQ(with.report.observations.size(), 1U);
  EXPECT_FALSE(with.report.observations[0].counted);
  EXPECT_NE(with.verdict.find("the DC table"), std::string::npos) << with.verdict;
}

}  // namespace
}  // namespace lampload::fit_observations_test
