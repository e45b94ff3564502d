// Running quadratics and the search for kinks, against the plain least-squares solution of each window.

#include "fit/local_quadratic.h"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <random>

namespace lampload::local_quadratic_test {
namespace {

/// Noise of unit height about a mains half wave with a kink.
std::vector<double> samples() {
  std::mt19937_64 random(5);
  std::vector<double> y;
  for (int k = 0; k < 600; ++k) {
    const double uniform = static_cast<double>(random() >> 11U) * 0x1p-53 - 0.5;
    y.push_back(325.0 * std::abs(std::sin(0.004 * (k - 300))) + uniform);
  }
  return y;
}

struct Window {
  Eigen::MatrixXd x;  ///< 1, t, t^2 from its middle
  Eigen::VectorXd y;
  Eigen::VectorXd c;  ///< least squares
};

Window window_of(const std::vector<double>& y, std::size_t first, std::size_t last) {
  const auto n = static_cast<Eigen::Index>(last - first + 1);
  Window window{Eigen::MatrixXd(n, 3), Eigen::VectorXd(n), {}};
  for (Eigen::Index k = 0; k < n; ++k) {
    const double t = static_cast<double>(k) - 0.5 * static_cast<double>(n - 1);
    window.x.row(k) << 1.0, t, t * t;
    window.y[k] = y[first + static_cast<std::size_t>(k)];
  }
  window.c = window.x.colPivHouseholderQr().solve(window.y);
  return window;
}

TEST(RunningQuadratic, IsTheLeastSquaresOneOfEveryWindow) {
  const std::vector<double> y = samples();
  RunningQuadratic running(y);
  for (std::size_t k = 0; k < y.size(); ++k) {
    const std::size_t first = k >= 40 ? k - 40 : 0;
    const std::size_t last = std::min(y.size() - 1, k + (k < 300 ? 25 : 40));
    const LocalQuadratic fit = running.through(first, last);
    const Window plain = window_of(y, first, last);
    const double n = static_cast<double>(plain.y.size());
    EXPECT_NEAR(fit.at(first), plain.x.row(0) * plain.c, 1e-9) << k;
    EXPECT_NEAR(fit.at(k),
                plain.c[0] + (static_cast<double>(k) - fit.middle) *
                                 (plain.c[1] + (static_cast<double>(k) - fit.middle) * plain.c[2]),
                1e-9);
    EXPECT_NEAR(fit.scatter, (plain.y - plain.x * plain.c).norm() / std::sqrt(n - 3.0), 1e-8) << k;
    const Eigen::Vector3d at(1.0, static_cast<double>(k) - fit.middle,
                             std::pow(static_cast<double>(k) - fit.middle, 2));
    EXPECT_NEAR(quadratic_gain(first, last, k), at.dot((plain.x.transpose() * plain.x).inverse() * at), 1e-9);
  }
}

TEST(RunningQuadratic, BeginsAnewBehindAGap) {
  const std::vector<double> y = samples();
  RunningQuadratic running(y);
  running.through(0, 20);
  const LocalQuadratic fit = running.through(500, 520);
  const Window plain = window_of(y, 500, 520);
  EXPECT_NEAR(fit.at(510), plain.c[0], 1e-9);
}

TEST(KinkTest, FindsWhatASearchOfEveryWindowFinds) {
  const std::vector<double> y = samples();
  for (const double limit : {1.5, 1.8, 2.2, 6.0}) {
    RunningQuadratic running(y);
    KinkTest kinks(y, limit);
    int found = 0;
    for (std::size_t k = 30; k + 30 < y.size(); ++k) {
      if (k % 7 == 3) continue;  // not every window is asked for
      const LocalQuadratic fit = running.through(k - 30, k + 30);
      const Window plain = window_of(y, k - 30, k + 30);
      const Eigen::VectorXd left = plain.y - plain.x * plain.c;
      double largest = 0.0;
      for (Eigen::Index i = 2; i < left.size(); ++i)
        largest = std::max(largest, std::abs(left[i] + left[i - 1] + left[i - 2]));
      if (std::abs(largest - limit) < 1e-6) continue;  // rounding decides
      EXPECT_EQ(kinks.kinked(fit, k - 30, k + 30), largest > limit) << "limit " << limit << ", sample " << k;
      found += largest > limit ? 1 : 0;
    }
    EXPECT_GT(found, 20) << limit;
    EXPECT_LT(found, 440) << limit;
  }
}

}  // namespace
}  // namespace lampload::local_quadratic_test
