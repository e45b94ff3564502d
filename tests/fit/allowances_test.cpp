// How much of the allowances a fit's residuals ask for, on drawn residuals whose variance is known.

#include "fit/allowances.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

#include "core/standard_normal.h"

namespace lampload::allowances_test {
namespace {

constexpr std::size_t blocks = 20000;

/// White noise of 1 A everywhere, an allowance of 3 A for the current in every second block, of 2 A for instants in
/// every fifth.
std::vector<Variances> parts() {
  Variances one;
  one.noise.assign(blocks, 1.0);
  for (std::vector<double>& allowed : one.allowed) allowed.assign(blocks, 0.0);
  for (std::size_t k = 0; k < blocks; ++k) {
    if (k % 2 == 0) one.allowed[0][k] = 9.0;
    if (k % 5 == 0) one.allowed[1][k] = 4.0;
  }
  return {one};
}

std::vector<DrivenCapture> drives() {
  std::vector<DrivenCapture> all(1);
  all[0].current_a.assign(blocks, 0.0);
  all[0].use.assign(blocks, Use::fitted);
  return all;
}

std::vector<std::vector<double>> squares(const AllowanceShares& there) {
  std::mt19937_64 random(5);
  const std::vector<Variances> all = parts();
  std::vector<std::vector<double>> square(1);
  for (std::size_t k = 0; k < blocks; ++k)
    square[0].push_back(all[0].of_block(k, there) * std::pow(standard_normal(random), 2));
  return square;
}

TEST(NeededShares, FindsWhatIsThere) {
  const AllowanceShares shares = needed_shares(drives(), parts(), squares({0.4, 0.7, 1.0}), 1.0, 0.01);
  EXPECT_NEAR(shares[0], 0.4, 0.03);
  EXPECT_NEAR(shares[1], 0.7, 0.1);
  EXPECT_DOUBLE_EQ(shares[2], 1.0);  // no block speaks of it: it stays whole
}

TEST(NeededShares, LeavesTheLeastOfWhatIsNotNeeded) {
  const AllowanceShares shares = needed_shares(drives(), parts(), squares({0.0, 0.0, 1.0}), 1.0, 0.01);
  EXPECT_NEAR(shares[0], 0.01, 0.01);
  EXPECT_NEAR(shares[1], 0.01, 0.02);
}

TEST(NeededShares, NeverExceedTheWhole) {
  const AllowanceShares shares = needed_shares(drives(), parts(), squares({5.0, 1.0, 1.0}), 1.0, 0.01);
  EXPECT_DOUBLE_EQ(shares[0], 1.0);
}

TEST(BlockWeights, KeepEveryAllowanceWhereSomethingIsMissed) {
  const std::vector<DrivenCapture> all = [] {
    std::vector<DrivenCapture> made = drives();
    made[0].noise_a = made[0].allowed_a = made[0].timing_a = std::vector<double>(blocks, 1.0);
    return made;
  }();
  BlockWeights weights(all);
  weights.learn(all, parts(), squares({0.0, 0.0, 0.0}), 1.0);
  EXPECT_DOUBLE_EQ(weights[0][0], std::sqrt(14.0));
  EXPECT_DOUBLE_EQ(weights.learned().emphasis, blocks_per_observation);
  weights.learn(all, parts(), squares({0.0, 0.0, 0.0}), 0.0);
  EXPECT_NEAR(weights[0][0], 1.0, 0.1);
  EXPECT_DOUBLE_EQ(weights.expected_a2(0, 0), 14.0);
  EXPECT_DOUBLE_EQ(weights.learned().emphasis, 1.0);
}

}  // namespace
}  // namespace lampload::allowances_test
