// Intervals of a fit hold the truth as often as they say, where the noise is white and where it repeats every half
// cycle. The lamp is a plain resistance, whose least squares can be checked by hand: variance = sigma^2 / sum v^2 (JCGM
// 100, 5.1.2).

#include "fit/uncertainty.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "core/waveform/figures.h"
#include "fit/drive.h"

namespace lampload::uncertainty_test {
namespace {

constexpr double omega = 2.0 * std::numbers::pi * 50.0;
constexpr double resistance = 500.0;

double normal(std::mt19937_64& random) {
  double sum = -6.0;
  for (int n = 0; n < 12; ++n) sum += static_cast<double>(random() >> 11U) * 0x1p-53;
  return sum;
}

struct Draw {
  double error;  ///< of ln(resistance)
  double sd;
};

/// One record of ten cycles with current noise `sd_a`, white or the same in every half cycle.
Draw draw(std::uint64_t seed, double sd_a, bool repeats) {
  std::mt19937_64 random(seed);
  std::vector<double> half_cycle(500);
  for (double& one : half_cycle) one = sd_a * normal(random);
  Capture capture;
  capture.file = "synthetic";
  capture.sample_interval_s = 20e-6;
  for (std::size_t k = 0; k < 10000; ++k) {
    const double v = 325.0 * std::sin(omega * static_cast<double>(k) * capture.sample_interval_s);
    const double sign = (k / 500) % 2 == 0 ? 1.0 : -1.0;
    capture.voltage_v.push_back(v);
    capture.current_a.push_back(v / resistance + (repeats ? sign * half_cycle[k % 500] : sd_a * normal(random)));
  }
  const Figures figures = measure(capture);
  std::vector<DrivenCapture> drives = {make_drive(capture, figures, {.coarse_s = 20e-6, .fine_s = 20e-6})};
  const auto residuals = make_residuals(0, std::move(drives), {});
  std::vector<double> full(residuals->layout().size(), 0.0);
  full[0] = std::log(resistance);
  full[1] = -std::log(2.0 * std::numbers::pi * fastest_bandwidth_hz);
  std::vector<bool> free(full.size(), false);
  free[0] = true;
  free[2] = true;  // offset
  residuals->set_free(free, full);
  const Solution solution = minimise(*residuals, residuals->reduce(full), {{0.0, -1.0}, {20.0, 1.0}});
  const std::vector<double> best = residuals->expand(solution.x);
  const Uncertainty uncertainty = uncertainty_at(*residuals, best, {});
  return {best[0] - std::log(resistance), std::sqrt(uncertainty.covariance[0])};
}

double share_inside(double sd_a, bool repeats) {
  constexpr int draws = 120;
  int inside = 0;
  for (int n = 0; n < draws; ++n) {
    const Draw one = draw(1000 + static_cast<std::uint64_t>(n), sd_a, repeats);
    if (std::abs(one.error) < 1.96 * one.sd) ++inside;
  }
  return static_cast<double>(inside) / draws;
}

TEST(Uncertainty, WhiteNoiseGivesTheTextbookVariance) {
  const double sd_a = 0.05;
  const Draw one = draw(5, sd_a, false);
  // ln R = -ln g, and sum of v^2 over ten cycles of 1000 samples is 10000 * 325^2 / 2
  const double textbook = sd_a * resistance / std::sqrt(10000.0 * 325.0 * 325.0 / 2.0);
  EXPECT_NEAR(one.sd / textbook, 1.0, 0.25);
}

TEST(Uncertainty, IntervalsHoldTheTruthUnderWhiteNoise) {
  const double share = share_inside(0.05, false);
  EXPECT_GE(share, 0.89);
  EXPECT_LE(share, 1.0);
}

TEST(Uncertainty, IntervalsHoldTheTruthUnderNoiseThatRepeatsEveryHalfCycle) {
  // Twenty half cycles of the same error are one: intervals that counted them as twenty would hold the truth in a third
  // of the cases.
  EXPECT_GE(share_inside(0.05, true), 0.88);
}

}  // namespace
}  // namespace lampload::uncertainty_test
