// The spread between pieces against published figures, against an independent calculation, and by repeated sampling.

#include "fit/piece_spread.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <random>
#include <vector>

#include "core/error.h"
#include "core/standard_normal.h"

namespace lampload::piece_spread_test {
namespace {

// NIST Statistical Reference Datasets, analysis of variance, SiRstv: resistivity of silicon by five instruments, five
// readings each. Certified mean squares: between 1.27865654e-2, within 1.0831828e-2. With equal groups the restricted
// maximum likelihood estimate is that of the analysis of variance, (between - within) / 5 (Searle, Casella, McCulloch,
// Variance Components, from memory).
TEST(PieceSpread, MeasuredIsThatOfTheAnalysisOfVariance) {
  const std::array<std::array<double, 5>, 5> readings{{{196.3052, 196.1240, 196.1890, 196.2569, 196.3403},
                                                       {196.3042, 196.3825, 196.1669, 196.3257, 196.0422},
                                                       {196.1303, 196.2005, 196.2889, 196.0343, 196.1811},
                                                       {196.2795, 196.1748, 196.1494, 196.1485, 195.9885},
                                                       {196.2119, 196.1051, 196.1850, 196.0052, 196.2090}}};
  constexpr double certified_between = 1.27865654e-2;
  constexpr double certified_within = 1.0831828e-2;
  std::vector<PieceValue> pieces;
  for (const auto& instrument : readings) {
    double mean = 0.0;
    for (const double reading : instrument) mean += reading / 5.0;
    pieces.push_back({mean, certified_within / 5.0});
  }
  const PieceSpread found = piece_spread(pieces, {.spread = 0.05});
  EXPECT_NEAR(found.measured * found.measured, (certified_between - certified_within) / 5.0, 1e-8);
}

// Thirteen trials of the BCG vaccine (Colditz et al., JAMA 271 (1994) 698), logarithms of the relative risk: published
// many times over as between-trial variance 0.3132, mean -0.7145, standard error 0.1798 by restricted maximum
// likelihood (van Houwelingen, Arends, Stijnen, Stat. Med. 21 (2002) 589 analyse the same data).
TEST(PieceSpread, MeasuredAndMeanOfUnequallyKnownValuesArePublished) {
  const std::vector<std::array<double, 4>> trials{
      {4, 119, 11, 128},     {6, 300, 29, 274},      {3, 228, 11, 209},        {62, 13536, 248, 12619},
      {33, 5036, 47, 5761},  {180, 1361, 372, 1079}, {8, 2537, 10, 619},       {505, 87886, 499, 87892},
      {29, 7470, 45, 7232},  {17, 1699, 65, 1600},   {186, 50448, 141, 27197}, {5, 2493, 3, 2338},
      {27, 16886, 29, 17825}};
  std::vector<PieceValue> pieces;
  for (const auto& [a, b, c, d] : trials) {
    pieces.push_back({std::log(a / (a + b) * (c + d) / c), 1.0 / a - 1.0 / (a + b) + 1.0 / c - 1.0 / (c + d)});
  }
  const PieceSpread found = piece_spread(pieces, {.spread = std::sqrt(0.3132), .degrees_of_freedom = 200});
  EXPECT_NEAR(found.measured * found.measured, 0.3132, 0.00005);
  // What is usual was chosen to agree, so that the mean is that of the measured spread.
  EXPECT_NEAR(found.mean, -0.7145, 0.0005);
  EXPECT_NEAR(found.mean_sd, 0.1798, 0.0005);
}

// The same integrals by SciPy (scipy.integrate.quad over the spread, adaptive; quantiles on 400 000 steps).
TEST(PieceSpread, ThePosteriorIsThatOfAnIndependentCalculation) {
  // Eight schools (Rubin, J. Educ. Stat. 6 (1981) 377), with a usual spread of 10 counted as three.
  const std::array<double, 8> effect{28, 8, -3, 7, -1, 1, 18, 12};
  const std::array<double, 8> error{15, 10, 16, 11, 9, 11, 10, 18};
  std::vector<PieceValue> schools;
  for (std::size_t i = 0; i < 8; ++i) schools.push_back({effect[i], error[i] * error[i]});
  const PieceSpread eight = piece_spread(schools, {.spread = 10.0, .degrees_of_freedom = 3});
  EXPECT_NEAR(eight.spread, 8.117716, 1e-4);
  EXPECT_NEAR(eight.lower_95, 5.146437, 2.5e-3);
  EXPECT_NEAR(eight.upper_95, 16.918988, 8e-3);
  EXPECT_NEAR(eight.usual_share, 3.0 / 5.673680, 1e-4);
  EXPECT_NEAR(eight.mean, 8.027053, 1e-4);
  EXPECT_NEAR(eight.mean_sd, 5.085048, 1e-4);
  EXPECT_NEAR(eight.coverage_95 * eight.mean_sd, 0.5 * (18.872421 + 2.620563), 1e-3);
  EXPECT_LT(eight.measured, 1e-3);  // the published estimate is zero

  const PieceSpread three = piece_spread(std::vector<PieceValue>{{0.02, 1e-4}, {0.11, 9e-4}, {-0.03, 4e-4}});
  EXPECT_NEAR(three.spread, 0.0529026, 1e-6);
  EXPECT_NEAR(three.lower_95, 0.0314839, 1.5e-5);
  EXPECT_NEAR(three.upper_95, 0.1376966, 6e-5);
  EXPECT_NEAR(three.measured, 0.0640902, 1e-6);
  EXPECT_NEAR(three.mean, 0.0293769, 1e-6);
  EXPECT_NEAR(three.coverage_95 * three.mean_sd, 0.5 * (0.1161558 + 0.0537072), 1e-5);
}

TEST(PieceSpread, OnePieceLeavesTheUsualSpread) {
  const PieceSpread found = piece_spread(std::vector<PieceValue>{{1.5, 1e-4}});
  EXPECT_NEAR(found.spread, 0.05, 1e-9);
  EXPECT_EQ(found.measured, 0.0);
  EXPECT_NEAR(found.usual_share, 1.0, 1e-9);
  // 0.05 sqrt(3 / chi-square), whose 97.5 % and 2.5 % points with 3 degrees of freedom are 9.348 and 0.2158 (tables).
  EXPECT_NEAR(found.lower_95, 0.05 * std::sqrt(3.0 / 9.348), 2e-5);
  EXPECT_NEAR(found.upper_95, 0.05 * std::sqrt(3.0 / 0.2158), 2e-4);
}

TEST(PieceSpread, ExactlyKnownPiecesGiveTheClosedForm) {
  const std::vector<PieceValue> pieces{{1.00, 0.0}, {1.03, 0.0}, {0.95, 0.0}, {1.10, 0.0}};
  const double s2 = (0.02 * 0.02 + 0.01 * 0.01 + 0.07 * 0.07 + 0.08 * 0.08) / 3.0;
  const PieceSpread found = piece_spread(pieces);
  EXPECT_NEAR(found.spread * found.spread, (3.0 * 0.0025 + 3.0 * s2) / 6.0, 1e-9);
  EXPECT_NEAR(found.usual_share, 0.5, 1e-6);
  EXPECT_NEAR(found.measured * found.measured, s2, 1e-9);
  EXPECT_NEAR(found.mean, 1.02, 1e-9);
  EXPECT_NEAR(found.coverage_95, 2.447, 1e-3);  // Student's t with 6 degrees of freedom (tables)
}

TEST(PieceSpread, TwoAlikePiecesDoNotClaimThatThereIsNoSpread) {
  const PieceSpread found = piece_spread(std::vector<PieceValue>{{2.0, 1e-6}, {2.0, 1e-6}});
  EXPECT_EQ(found.measured, 0.0);
  EXPECT_NEAR(found.spread, 0.05 * std::sqrt(3.0 / 4.0), 1e-4);
  EXPECT_GT(found.lower_95, 0.02);
}

TEST(PieceSpread, RefusesWhatIsNoNumber) {
  EXPECT_THROW(piece_spread({}), Error);
  EXPECT_THROW(piece_spread(std::vector<PieceValue>{{1.0, -1e-9}}), Error);
  EXPECT_THROW(piece_spread(std::vector<PieceValue>{{NAN, 1e-9}}), Error);
}

struct Coverage {
  double spread = 0.0;
  double mean = 0.0;
};

/// Share of the lots whose intervals hold the truth. of_lot: the true spread of a lot.
template <class Truth>
Coverage coverage(std::size_t pieces, double own_sd, Truth&& of_lot) {
  constexpr int lots = 500;
  std::mt19937_64 random(20240229);
  Coverage held;
  for (int lot = 0; lot < lots; ++lot) {
    const double truth = of_lot(random);
    std::vector<PieceValue> values;
    for (std::size_t i = 0; i < pieces; ++i) {
      // Some pieces are known twice as well as others.
      const double sd = own_sd * (i % 2 == 0 ? 1.0 : 0.5);
      values.push_back({truth * standard_normal(random) + sd * standard_normal(random), sd * sd});
    }
    const PieceSpread found = piece_spread(values);
    if (found.lower_95 <= truth && truth <= found.upper_95) held.spread += 1.0 / lots;
    if (std::abs(found.mean) <= found.coverage_95 * found.mean_sd) held.mean += 1.0 / lots;
  }
  return held;
}

// Where lots differ as the usual spread says, 95 % intervals hold 95 % of the truths: 500 lots are sure to 1.9 %
// (two standard deviations).
TEST(PieceSpread, IntervalsCoverWhereLotsDifferAsIsUsual) {
  for (const std::size_t pieces : {2, 3, 5}) {
    for (const double own_sd : {0.005, 0.04}) {
      const Coverage held = coverage(pieces, own_sd, [](std::mt19937_64& random) {
        double chi_square = 0.0;
        for (int k = 0; k < 3; ++k) chi_square += std::pow(standard_normal(random), 2);
        return 0.05 * std::sqrt(3.0 / chi_square);
      });
      EXPECT_NEAR(held.spread, 0.95, 0.025) << pieces << " pieces, " << own_sd;
      EXPECT_NEAR(held.mean, 0.95, 0.025) << pieces << " pieces, " << own_sd;
    }
  }
}

// Lots that all have one spread other than the usual: with few pieces the usual one draws, up for narrow lots, down for
// wide ones.
TEST(PieceSpread, IntervalsCoverMostOfNarrowAndWideLots) {
  for (const double truth : {0.03, 0.05, 0.08}) {
    const Coverage held = coverage(4, 0.01, [&](std::mt19937_64&) { return truth; });
    EXPECT_GE(held.spread, 0.86) << truth;
    EXPECT_GE(held.mean, 0.90) << truth;
  }
}

}  // namespace
}  // namespace lampload::piece_spread_test
