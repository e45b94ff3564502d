// The solver and the covariance against certified values: NIST StRD (see tests/reference/nist_strd.h) and JCGM 100,
// H.3.

#include "fit/least_squares.h"

#include <ceres/jet.h>
#include <gtest/gtest.h>

#include <cmath>
#include <functional>

#include "core/error.h"
#include "tests/reference/nist_strd.h"

namespace lampload::least_squares_test {
namespace {

using Jet = ceres::Jet<double, 7>;
using Model = std::function<Jet(double x, const std::vector<Jet>& b)>;

Jet misra1a(double x, const std::vector<Jet>& b) { return b[0] * (1.0 - exp(-b[1] * x)); }
Jet thurber(double x, const std::vector<Jet>& b) {
  return (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6])));
}
Jet mgh09(double x, const std::vector<Jet>& b) { return b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]); }

class Curve final : public Residuals {
 public:
  Curve(std::vector<double> x, std::vector<double> y, std::size_t unknowns, Model model)
      : x_(std::move(x)), y_(std::move(y)), unknowns_(unknowns), model_(std::move(model)) {}
  [[nodiscard]] std::size_t unknowns() const override { return unknowns_; }
  [[nodiscard]] std::size_t count() const override { return x_.size(); }
  bool evaluate(const double* p, double* r, double* jacobian) const override {
    std::vector<Jet> b;
    for (std::size_t j = 0; j < unknowns_; ++j) b.emplace_back(p[j], static_cast<int>(j));
    for (std::size_t k = 0; k < x_.size(); ++k) {
      const Jet y = model_(x_[k], b);
      r[k] = y.a - y_[k];
      for (std::size_t j = 0; jacobian != nullptr && j < unknowns_; ++j) {
        jacobian[k * unknowns_ + j] = y.v[static_cast<Eigen::Index>(j)];
      }
    }
    return true;
  }

 private:
  std::vector<double> x_;
  std::vector<double> y_;
  std::size_t unknowns_;
  Model model_;
};

/// Standard deviations as NIST certifies them: residual variance times (J'J)^-1.
std::vector<double> standard_deviations(const Residuals& curve, const Solution& solution) {
  const std::size_t n = curve.unknowns();
  const std::vector<double> covariance = covariance_at(curve, solution.x, std::vector<bool>(n, false));
  const double variance = 2.0 * solution.cost / static_cast<double>(curve.count() - n);
  std::vector<double> sd;
  for (std::size_t j = 0; j < n; ++j) sd.push_back(std::sqrt(variance * covariance[j * n + j]));
  return sd;
}

TEST(LeastSquares, CertifiedValuesAndStandardDeviationsOfNist) {
  const std::vector<Model> models = {misra1a, thurber, mgh09};
  const std::vector<reference::NistSet> sets = reference::nist_sets();
  for (std::size_t s = 0; s < sets.size(); ++s) {
    const reference::NistSet& set = sets[s];
    const std::size_t n = set.certified.size();
    const Curve curve(set.x, set.y, n, models[s]);
    Box box;
    for (std::size_t j = 0; j < n; ++j) {
      box.lower.push_back(-1e5);
      box.upper.push_back(1e5);
    }
    // MGH09 has a second minimum that its far start may reach: several starts decide, as they do in a fit.
    Solution best;
    for (const std::vector<double>& start : set.starts) {
      const Solution solution = minimise(
          curve, start, box,
          {.max_iterations = 2000, .function_tolerance = 1e-15, .parameter_tolerance = 1e-14, .orthogonal = true});
      ASSERT_TRUE(solution.usable) << set.name << ": " << solution.message;
      if (!best.usable || solution.cost < best.cost) best = solution;
    }
    const std::vector<double> sd = standard_deviations(curve, best);
    for (std::size_t j = 0; j < n; ++j) {
      EXPECT_NEAR(best.x[j] / set.certified[j], 1.0, 1e-6) << set.name << " b" << j + 1;
      EXPECT_NEAR(sd[j] / set.standard_deviation[j], 1.0, 1e-5) << set.name << " sd of b" << j + 1;
    }
  }
}

/// Normal equations lose digits, and still come to the certified values; an unknown that leaves no trace stays where it
/// is.
TEST(LeastSquares, NormalEquationsFindTheValuesOfNist) {
  const reference::NistSet set = reference::nist_sets()[0];
  const Curve curve(set.x, set.y, set.certified.size() + 1, misra1a);
  const Solution solution = minimise(curve, {set.starts[1][0], set.starts[1][1], 3.0},
                                     {{-1e3, -1.0, 0.0}, {1e3, 1.0, 9.0}}, {.function_tolerance = 1e-12});
  ASSERT_TRUE(solution.usable) << solution.message;
  for (std::size_t j = 0; j < set.certified.size(); ++j)
    EXPECT_NEAR(solution.x[j] / set.certified[j], 1.0, 1e-5) << "b" << j + 1;
  EXPECT_EQ(solution.x[2], 3.0);
  std::vector<double> r(curve.count());
  ASSERT_TRUE(curve.evaluate(solution.x.data(), r.data(), nullptr));
  double square = 0.0;
  for (const double one : r) square += one * one;
  EXPECT_NEAR(solution.cost, 0.5 * square, 1e-9 * square);
}

// JCGM 100:2008, H.3: a calibration line of a thermometer; y1, y2, their uncertainties and correlation.
TEST(LeastSquares, ThermometerCalibrationOfTheGuide) {
  const std::vector<double> t = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                                 24.513, 25.002, 25.503, 26.010, 26.511};
  std::vector<double> b = {-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160};
  std::vector<double> x;
  for (const double one : t) x.push_back(one - 20.0);
  const Curve line(x, b, 2, [](double at, const std::vector<Jet>& y) { return y[0] + y[1] * at; });
  const Solution solution = minimise(line, {0.0, 0.0}, {{-10.0, -10.0}, {10.0, 10.0}}, {.orthogonal = true});
  ASSERT_TRUE(solution.usable);
  EXPECT_NEAR(solution.x[0], -0.1712, 5e-5);
  EXPECT_NEAR(solution.x[1], 0.00218, 5e-6);
  const std::vector<double> sd = standard_deviations(line, solution);
  EXPECT_NEAR(sd[0], 0.0029, 5e-5);
  EXPECT_NEAR(sd[1], 0.00067, 5e-6);
  const std::vector<double> covariance = covariance_at(line, solution.x, {false, false});
  EXPECT_NEAR(covariance[1] / std::sqrt(covariance[0] * covariance[3]), -0.930, 5e-4);
}

TEST(LeastSquares, StaysInsideTheBox) {
  const Curve line({0.0, 1.0, 2.0}, {1.0, 3.0, 5.0}, 2,
                   [](double at, const std::vector<Jet>& y) { return y[0] + y[1] * at; });
  const Solution solution = minimise(line, {0.0, 0.0}, {{-10.0, -10.0}, {10.0, 1.5}});
  ASSERT_TRUE(solution.usable);
  EXPECT_LE(solution.x[1], 1.5);
  EXPECT_NEAR(solution.x[1], 1.5, 1e-6);
  EXPECT_NEAR(solution.x[0], 1.5, 1e-4);  // least squares given the slope: mean of y - 1.5 x
}

TEST(LeastSquares, HeldUnknownsHaveNoVarianceAndUnseenOnesAreRefused) {
  const Curve line({0.0, 1.0, 2.0}, {1.0, 3.0, 5.0}, 2,
                   [](double at, const std::vector<Jet>& y) { return y[0] + y[1] * at; });
  const std::vector<double> held = covariance_at(line, {1.0, 2.0}, {false, true});
  EXPECT_NEAR(held[0], 1.0 / 3.0, 1e-12);
  EXPECT_EQ(held[3], 0.0);
  const Curve blind({0.0, 1.0, 2.0}, {1.0, 3.0, 5.0}, 2,
                    [](double at, const std::vector<Jet>& y) { return y[0] * at + 0.0 * y[1]; });
  EXPECT_THROW(covariance_at(blind, {1.0, 2.0}, {false, false}), Error);
  EXPECT_NO_THROW(covariance_at(blind, {1.0, 2.0}, {false, false}, {0.25, 0.25}));
}

}  // namespace
}  // namespace lampload::least_squares_test
