// Tables for firmware: the laws against published figures, the inversion against closed forms.

#include "core/advice/level_table.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <set>

#include "core/error.h"

namespace lampload::advice_level_table_test {
namespace {

constexpr double pi = std::numbers::pi;

// IEC 62386-102: 10^((level - 1) / (253 / 3) - 1) per cent for levels 1 to 254 (formula as quoted by several public
// repositories). Figures of the standard's table as quoted in public forums, in per cent, to the digits given there.
TEST(LevelLaw, LogarithmicIsTheStandardsTable) {
  struct Row {
    int level;
    double percent, digits;
  };
  for (const Row& row : {Row{1, 0.100, 5e-4}, Row{10, 0.128, 5e-4}, Row{127, 3.12, 5e-3}, Row{229, 50.53, 5e-3},
                         Row{244, 76.11, 5e-3}, Row{254, 100.0, 5e-4}}) {
    EXPECT_NEAR(100.0 * target_share(LevelLaw::logarithmic, row.level, 254), row.percent, row.digits) << row.level;
  }
  for (int level = 1; level <= 254; ++level) {
    EXPECT_NEAR(100.0 * target_share(LevelLaw::logarithmic, level, 254),
                std::pow(10.0, (level - 1) / (253.0 / 3.0) - 1.0), 1e-9);
  }
  // 20 % and less take 195 of the levels, 20 to 100 % take 59 (a description of the standard's curve, maker withheld)
  int above = 0;
  for (int level = 1; level <= 254; ++level) above += target_share(LevelLaw::logarithmic, level, 254) > 0.2 ? 1 : 0;
  EXPECT_EQ(above, 59);
}

// CIE 15 / ISO/CIE 11664-4: L* = 116 Y^(1/3) - 16, and 903.3 Y below Y = 0.008856. Known points: Y 18.42 % for L* 50.
TEST(LevelLaw, LightnessIsTheInverseOfTheCieFormula) {
  EXPECT_NEAR(target_share(LevelLaw::lightness, 50.0, 100), 0.1842, 5e-5);
  for (int level = 1; level <= 200; ++level) {
    const double share = target_share(LevelLaw::lightness, level, 200);
    const double lightness = share > 0.008856 ? 116.0 * std::cbrt(share) - 16.0 : 903.3 * share;
    EXPECT_NEAR(lightness, 0.5 * level, 2e-3) << level;
  }
}

// IESNA Lighting Handbook, 9th ed.: perceived = square root of measured; 10 % is seen as 32 %, 1 % as 10 %.
TEST(LevelLaw, SquareIsTheInverseOfTheSquareRoot) {
  EXPECT_NEAR(target_share(LevelLaw::square, 32.0, 100), 0.10, 0.003);
  EXPECT_NEAR(target_share(LevelLaw::square, 10.0, 100), 0.01, 1e-12);
}

TEST(LevelLaw, EveryLawRunsFromNothingToAll) {
  for (const LevelLaw law : {LevelLaw::linear, LevelLaw::square, LevelLaw::lightness, LevelLaw::logarithmic}) {
    for (const int levels : {1, 2, 100, 254, 255, 1023}) {
      EXPECT_EQ(target_share(law, 0.0, levels), 0.0);
      EXPECT_NEAR(target_share(law, levels, levels), 1.0, 1e-12) << law_name(law);
      for (int level = 1; level <= levels; ++level) {
        EXPECT_GT(target_share(law, level, levels), target_share(law, level - 1, levels)) << law_name(law) << level;
      }
    }
  }
}

struct Swept {
  DimmingCurve curve;
  DimmingRange range;
};

Swept resistor(Mode mode, std::optional<double> min_deg = {}, std::optional<double> max_deg = {}) {
  Channel channel;
  channel.output.on_resistance_ohm = 1e-3;
  channel.output.min_conduction_deg = min_deg;
  channel.output.max_conduction_deg = max_deg;
  const LampGroup lamp{Lamp(find_family("resistor", ""), {529.0}), 1};
  Swept swept{dimming_curve(channel, mode, std::span(&lamp, 1)), {}};
  swept.range = range_of(swept.curve);
  return swept;
}

double phase_cut_power(double conduction_deg) {
  const double a = pi - conduction_deg * pi / 180.0;
  return 1.0 - a / pi + std::sin(2.0 * a) / (2.0 * pi);
}

TEST(LevelTable, ResistorGetsWhatTheLawAsks) {
  const Swept swept = resistor(Mode::trailing_edge);
  const double full = phase_cut_power(swept.range.max_setting);
  for (const LevelLaw law : {LevelLaw::linear, LevelLaw::square, LevelLaw::lightness}) {
    const LevelTable table = level_table(swept.curve, swept.range, {.law = law});
    ASSERT_EQ(table.rows.size(), 256U);
    EXPECT_EQ(table.rows[0].count, 0);
    EXPECT_EQ(table.rows[0].setting, 0.0);
    std::int64_t before = -1;
    for (const LevelRow& row : table.rows) {
      EXPECT_GE(row.count, before);
      before = row.count;
      if (row.level == 0) continue;
      EXPECT_GE(row.setting, swept.range.min_setting);
      EXPECT_LE(row.setting, swept.range.max_setting);
      EXPECT_EQ(row.reached, row.target >= table.least_share);
      const double gives = phase_cut_power(row.setting) / full;
      EXPECT_NEAR(row.share, gives, 1.5e-3) << row.level;
      if (row.reached) {
        EXPECT_NEAR(gives, row.target, 1.5e-3) << law_name(law) << row.level;
      }
    }
    EXPECT_NEAR(table.rows.back().setting, swept.range.max_setting, 180.0 / 65535.0);
  }
}

TEST(LevelTable, BelowTheSmallestSteadyLevel) {
  const Swept swept = resistor(Mode::leading_edge, 50.0, 150.0);
  LevelTableOptions options{.law = LevelLaw::logarithmic, .levels = 254};
  const LevelTable hold = level_table(swept.curve, swept.range, options);
  const double least = phase_cut_power(50.0) / phase_cut_power(150.0);
  EXPECT_NEAR(hold.least_share, least, 1e-3);
  // level = 1 + 253 / 3 * log10(share / 0.001)
  EXPECT_NEAR(hold.first_reached, 1.0 + 253.0 / 3.0 * std::log10(least / 0.001), 1.0);
  EXPECT_FALSE(hold.rows[1].reached);
  EXPECT_NEAR(hold.rows[1].setting, 50.0, 0.01);
  EXPECT_EQ(hold.rows[1].count, hold.rows[100].count);

  options.below = BelowRange::off;
  const LevelTable off = level_table(swept.curve, swept.range, options);
  EXPECT_EQ(off.rows[1].count, 0);
  EXPECT_EQ(off.rows[1].setting, 0.0);
  EXPECT_EQ(off.rows[static_cast<std::size_t>(off.first_reached) - 1].count, 0);
  EXPECT_GT(off.rows[static_cast<std::size_t>(off.first_reached)].count, 0);

  options.below = BelowRange::spread;
  const LevelTable spread = level_table(swept.curve, swept.range, options);
  EXPECT_EQ(spread.first_reached, 1);
  EXPECT_NEAR(spread.rows[1].target, least, 1e-3);
  EXPECT_EQ(spread.rows[254].target, 1.0);
  // still logarithmic: equal steps of ln(share)
  const double step = std::log(spread.rows[2].target / spread.rows[1].target);
  EXPECT_NEAR(std::log(spread.rows[200].target / spread.rows[199].target), step, 1e-9);
}

TEST(LevelTable, IntegersKeepTheLimits) {
  const Swept swept = resistor(Mode::leading_edge, 30.3, 149.7);
  const LevelTable conduction = level_table(swept.curve, swept.range, {.full_count = 200});
  const LevelTable delay = level_table(swept.curve, swept.range, {.full_count = 200, .count_delay = true});
  EXPECT_EQ(delay.rows[0].count, 200);  // off: never fired
  for (std::size_t i = 1; i < conduction.rows.size(); ++i) {
    EXPECT_GE(conduction.rows[i].setting, 30.3);
    EXPECT_LE(conduction.rows[i].setting, 149.7);
    EXPECT_NEAR(conduction.rows[i].setting, static_cast<double>(conduction.rows[i].count) * 180.0 / 200.0, 1e-9);
    EXPECT_EQ(delay.rows[i].count, 200 - conduction.rows[i].count);
  }
  EXPECT_EQ(conduction.rows[1].count, 34);       // 30.3 degrees are 33.67 counts
  EXPECT_EQ(conduction.rows.back().count, 166);  // 149.7 degrees are 166.3
  std::set<std::int64_t> different;
  for (std::size_t i = 1; i < conduction.rows.size(); ++i) different.insert(conduction.rows[i].count);
  EXPECT_EQ(conduction.distinct, static_cast<int>(different.size()));
}

TEST(LevelTable, RefusalsSayWhatWouldDo) {
  const Swept swept = resistor(Mode::trailing_edge);
  const auto refusal = [&](const DimmingRange& range, const LevelTableOptions& options) -> std::string {
    try {
      (void)level_table(swept.curve, range, options);
    } catch (const Error& error) {
      return error.what();
    }
    return "";
  };
  EXPECT_EQ(refusal(swept.range, {.of_light = true}),
            "the light of this lamp is not estimated: its circuit does not show it. Ask for a curve of power");
  EXPECT_EQ(refusal(swept.range, {.count_delay = true}),
            "a delay to the firing is counted at a leading edge only. Count the conduction instead");
  EXPECT_EQ(refusal(swept.range, {.levels = 0}), "0 levels; expected 1 to 65535");
  EXPECT_EQ(refusal(swept.range, {.full_count = 0}), "a full count of 0; expected 1 to 4294967295");
  EXPECT_EQ(refusal({}, {}), "the lamps get no power at any setting of this mode. Try another mode, or more lamps");
}

}  // namespace
}  // namespace lampload::advice_level_table_test
