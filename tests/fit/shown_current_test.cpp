// The model's current as a late channel shows it. Every expected value is a closed form.

#include "fit/shown_current.h"

#include <ceres/jet.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "fit/drive.h"

namespace lampload::shown_current_test {
namespace {

constexpr std::array<std::size_t, 8> bounds = {0, 1, 2, 3, 7, 9, 14, 15};

/// i(t) = 2 A - 3 A/sample t + 0.5 A/sample^2 t^2, whose charge is a cubic; it stands before the first bound and after
/// the last.
double current_at(double t) {
  t = std::clamp(t, 0.0, 15.0);
  return 2.0 - 3.0 * t + 0.5 * t * t;
}
double charge_at(double t) {
  const double in = std::clamp(t, 0.0, 15.0);
  return 2.0 * in - 1.5 * in * in + in * in * in / 6.0 + (t - in) * current_at(t);
}

template <class T>
std::vector<ShownBlock<T>> shown_parabola(double late, const T& scale) {
  ShownCurrent<T> shown(bounds, late);
  std::vector<ShownBlock<T>> all;
  const auto take = [&](const ShownBlock<T>& one) { all.push_back(one); };
  shown.begin(scale * current_at(0.0));
  for (std::size_t b = 0; b + 1 < bounds.size(); ++b) {
    const auto from = static_cast<double>(bounds[b]);
    const auto to = static_cast<double>(bounds[b + 1]);
    shown.add(scale * ((charge_at(to) - charge_at(from)) / (to - from)), scale * current_at(to), take);
  }
  shown.finish(take);
  return all;
}

TEST(ShownCurrent, IsThatOfAParabolaAtAnyDelay) {
  for (const double late : {0.0, 0.3, 1.0, 2.75, 11.2, 40.0, -0.4, -1.0, -3.6, -25.0}) {
    const auto shown = shown_parabola<double>(late, 1.0);
    ASSERT_EQ(shown.size(), bounds.size() - 1) << late;
    for (std::size_t b = 0; b < shown.size(); ++b) {
      const double from = static_cast<double>(bounds[b]) - late;
      const double to = static_cast<double>(bounds[b + 1]) - late;
      EXPECT_EQ(shown[b].block, b);
      EXPECT_NEAR(shown[b].end_a, current_at(to), 1e-11) << late;
      const double mean_a = bounds[b + 1] - bounds[b] == 1 ? 0.5 * (current_at(from) + current_at(to))
                                                           : (charge_at(to) - charge_at(from)) / (to - from);
      EXPECT_NEAR(shown[b].mean_a, mean_a, 1e-11) << late << ' ' << b;
    }
  }
}

/// Blocks that come in parts show what whole ones show, and what bends between the parts besides.
TEST(ShownCurrent, TakesBlocksInParts) {
  constexpr double kink = 10.3;  // within the stretch from 9 to 14
  const auto current = [](double t) { return t < kink ? 1.0 : 1.0 + 2.0 * (std::min(t, 15.0) - kink); };
  for (const double late : {0.0, 0.4, -0.7, 2.1}) {
    ShownCurrent<double> shown(bounds, late);
    std::vector<ShownBlock<double>> all;
    const auto take = [&](const ShownBlock<double>& one) { all.push_back(one); };
    EXPECT_FALSE(shown.begun());
    shown.begin(1.0);
    EXPECT_TRUE(shown.begun());
    for (std::size_t b = 0; b + 1 < bounds.size(); ++b) {
      const auto from = static_cast<double>(bounds[b]);
      const auto to = static_cast<double>(bounds[b + 1]);
      double at = from;
      if (from < kink && kink < to) {
        shown.add_part((kink - from) / (to - from), 1.0, 1.0);
        at = kink;
      }
      shown.add(0.5 * (current(at) + current(to)), current(to), take);
    }
    shown.finish(take);
    ASSERT_EQ(all.size(), bounds.size() - 1);
    for (std::size_t b = 0; b < all.size(); ++b)
      EXPECT_NEAR(all[b].end_a, current(static_cast<double>(bounds[b + 1]) - late), 1e-12) << late << ' ' << b;
  }
}

TEST(ShownCurrent, SlopeByTheDelayIsThatOfTheMean) {
  constexpr double h = 1e-5;
  for (const double late : {0.3, 2.75, -3.6}) {
    const auto here = shown_parabola<double>(late, 1.0);
    const auto later = shown_parabola<double>(late + h, 1.0);
    const auto earlier = shown_parabola<double>(late - h, 1.0);
    for (std::size_t b = 0; b < here.size(); ++b)
      EXPECT_NEAR(here[b].by_late, (later[b].mean_a - earlier[b].mean_a) / (2.0 * h), 1e-6) << late << ' ' << b;
  }
}

/// Everything is in proportion to the current that went in, and so are the derivatives that come along.
TEST(ShownCurrent, CarriesDerivatives) {
  using Jet = ceres::Jet<double, 2>;
  for (const double late : {1.7, -2.2}) {
    const auto plain = shown_parabola<double>(late, 1.0);
    const auto jets = shown_parabola<Jet>(late, Jet(1.0, 1));
    for (std::size_t b = 0; b < plain.size(); ++b) {
      EXPECT_NEAR(jets[b].mean_a.a, plain[b].mean_a, 1e-12);
      EXPECT_NEAR(jets[b].mean_a.v[1], plain[b].mean_a, 1e-12);
      EXPECT_DOUBLE_EQ(jets[b].mean_a.v[0], 0.0);
      EXPECT_NEAR(jets[b].by_late, plain[b].by_late, 1e-12);
    }
  }
}

/// Far more blocks than are held at a time, and blocks of many samples that each see many short ones.
TEST(ShownCurrent, ForgetsOnlyWhatIsPast) {
  std::vector<std::size_t> many = {0};
  for (int k = 0; k < 500; ++k) many.push_back(many.back() + (k % 100 < 90 ? 1 : 200));
  for (const double late : {150.0, -150.0}) {
    ShownCurrent<double> shown(many, late);
    const auto current = [](double t) { return std::sin(1e-3 * t); };
    const auto charge = [](double t) { return -1e3 * std::cos(1e-3 * t); };
    std::size_t seen = 0;
    const auto last = static_cast<double>(many.back());
    const auto take = [&](const ShownBlock<double>& one) {
      EXPECT_EQ(one.block, seen++);
      const double to = static_cast<double>(many[one.block + 1]) - late;
      if (to > 0.0 && to < last) {
        EXPECT_NEAR(one.end_a, current(to), 1e-4);
      }
    };
    shown.begin(0.0);
    for (std::size_t b = 0; b + 1 < many.size(); ++b) {
      const auto from = static_cast<double>(many[b]);
      const auto to = static_cast<double>(many[b + 1]);
      shown.add((charge(to) - charge(from)) / (to - from), current(to), take);
    }
    shown.finish(take);
    EXPECT_EQ(seen, many.size() - 1);
  }
}

/// A jump that falls between two samples shows in the model's current alone.
TEST(JumpSigma, CountsWhatTheModelShows) {
  DrivenCapture drive;
  drive.dt_s = 40e-6;
  for (std::size_t b = 0; b <= 12; ++b) drive.bounds.push_back(b);
  drive.current_a.assign(12, 0.0);
  drive.jumps = {4};
  std::vector<double> model_a(12, 0.0);
  model_a[5] = 3.0;
  const std::vector<double> sigma = jump_sigma(drive, model_a, 40e-6);
  EXPECT_DOUBLE_EQ(sigma[4], 0.0);
  EXPECT_GT(sigma[5], 3.0);
  EXPECT_GT(sigma[6], 3.0);
  EXPECT_DOUBLE_EQ(sigma[8], 0.0);
}

}  // namespace
}  // namespace lampload::shown_current_test
