// A lamp behind a cutting dimmer, its voltage taken ahead of the dimmer. Closed forms.

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <span>
#include <vector>

#include "core/standard_normal.h"
#include "core/waveform/figures.h"
#include "fit/fit.h"

namespace lampload::supply_side_test {
namespace {

constexpr double omega = 2.0 * std::numbers::pi * 50.0;

double in_steps(double value, double step) { return step * std::round(value / step); }

// The cut is seen by the current alone, so it is as late as the clamp; the sine of the supply is not. Taken for one and
// the same delay the two pull it apart, and the instants of the cut leave ten times what the digitiser does.
TEST(SupplySide, TheInstantsOfTheCutDoNotPullTheDelay) {
  constexpr double late_s = 40e-6;
  Capture capture;
  capture.sample_interval_s = 5e-6;
  capture.voltage_step_v = 2.0;
  capture.current_step_a = 0.004;
  std::mt19937_64 random(1);
  for (int k = 0; k < 16000; ++k) {
    const double time = k * capture.sample_interval_s;
    const double then = time - late_s;
    const double share = then * 100.0 - std::floor(then * 100.0);  // of the half cycle
    const double current = share < 0.7 ? 0.5 * std::sin(omega * then) : 0.0;
    capture.voltage_v.push_back(in_steps(325.0 * std::sin(omega * time) + standard_normal(random), 2.0));
    capture.current_a.push_back(in_steps(current + 0.002 * standard_normal(random), 0.004));
  }
  const std::vector<Figures> figures = {measure(capture)};
  ASSERT_TRUE(figures[0].cut.supply_side_voltage);
  const FitResult fit = fit_lamp(std::span(&capture, 1), figures);
  ASSERT_EQ(fit.family, "resistor") << fit.verdict;
  EXPECT_LT(fit.report.captures[0].residual_rms_a, 0.004);
  EXPECT_GT(fit.report.captures[0].current_delay_s, 8e-6);
  EXPECT_NEAR(fit.parameters[0].value, 650.0, 6.5);
}

}  // namespace
}  // namespace lampload::supply_side_test
