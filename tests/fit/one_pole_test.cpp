// The current channel's pole against closed forms: a first-order low-pass fed with steps and ramps.

#include "fit/one_pole.h"

#include <ceres/jet.h>
#include <gtest/gtest.h>

#include <cmath>

namespace lampload::one_pole_test {
namespace {

constexpr double tau_s = 5e-6;

TEST(OnePole, FollowsARampLateByItsTimeConstant) {
  // i(t) = a t from rest: what is shown is a (t - tau (1 - e^(-t / tau))), its integral a (t^2 / 2 - tau t + tau^2 (1 -
  // e^(-t / tau))).
  OnePole<double> pole(tau_s);
  const double slope = 1e4;
  double time = 0.0;
  for (const double length_s : {2e-6, 2e-6, 7e-6, 40e-6, 1e-6}) {
    const auto charge = [&](double t) {
      return slope * (0.5 * t * t - tau_s * t + tau_s * tau_s * (1.0 - std::exp(-t / tau_s)));
    };
    const double end = time + length_s;
    const double mean = pole.pass(slope * (time + 0.5 * length_s), slope * end, length_s);
    EXPECT_NEAR(mean, (charge(end) - charge(time)) / length_s, 1e-12 + 1e-9 * mean);
    EXPECT_NEAR(pole.shown_a(), slope * (end - tau_s * (1.0 - std::exp(-end / tau_s))), 1e-12);
    time = end;
  }
}

TEST(OnePole, LosesNoCharge) {
  OnePole<double> pole(tau_s);
  double drawn = 0.0, shown = 0.0;
  for (int k = 0; k < 40; ++k) {
    const double length_s = k < 20 ? 5e-6 : 20e-6;
    const double mean = k == 3 ? 2.0 : 0.0;  // a pulse inside one block
    drawn += mean * length_s;
    shown += pole.pass(mean, 0.0, length_s) * length_s;
  }
  EXPECT_NEAR(shown, drawn, 1e-12 * drawn);
}

TEST(OnePole, StartsWhereItIsTold) {
  OnePole<double> pole(tau_s);
  pole.start(3.0);
  EXPECT_DOUBLE_EQ(pole.pass(3.0, 3.0, 10e-6), 3.0);
  EXPECT_DOUBLE_EQ(pole.shown_a(), 3.0);
}

TEST(OnePole, SlopesAreThoseOfTheMean) {
  using Jet = ceres::Jet<double, 2>;
  const auto through = [](const auto& scale, const auto& tau) {
    using T = std::decay_t<decltype(scale)>;
    OnePole<T> pole(tau);
    pole.start(T(scale * 0.4));
    T sum(0.0);
    for (int k = 1; k <= 6; ++k) {
      const double length_s = k % 2 == 0 ? 3e-6 : 8e-6;
      sum += pole.pass(T(scale * std::cos(0.7 * k)), T(scale * std::sin(0.9 * k)), length_s) * (1.0 + k);
    }
    return T(sum + pole.shown_a());
  };
  const Jet exact = through(Jet(2.0, 0), Jet(tau_s, 1));
  EXPECT_DOUBLE_EQ(exact.a, through(2.0, tau_s));
  const double h = 1e-5;
  EXPECT_NEAR(exact.v[0], (through(2.0 + h, tau_s) - through(2.0 - h, tau_s)) / (2.0 * h), 1e-8 * std::abs(exact.v[0]));
  const double ht = 1e-4 * tau_s;
  EXPECT_NEAR(exact.v[1], (through(2.0, tau_s + ht) - through(2.0, tau_s - ht)) / (2.0 * ht),
              1e-6 * std::abs(exact.v[1]));
}

}  // namespace
}  // namespace lampload::one_pole_test
