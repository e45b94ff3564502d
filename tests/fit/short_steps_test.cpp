// What happens within one sample: a voltage that rises to its height in the sample where a leading edge switches on,
// seen through a clamp that is slow and late. Every expected current is a closed form.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "core/capture/capture.h"
#include "core/waveform/figures.h"
#include "fit/drive.h"
#include "fit/lamp_residuals.h"

namespace lampload::short_steps_test {
namespace {

constexpr double dt_s = 20e-6;
constexpr double half_cycle_s = 10e-3;
constexpr std::size_t samples = 4000;
constexpr double crest_v = 325.0;
constexpr double resistance_ohm = 500.0;
constexpr double time_constant_s = 4e-6;

/// Mains behind a leading edge at 99 degrees, straight between its samples.
double voltage_at(std::size_t sample) {
  const std::size_t phase = sample % 500;
  if (phase < 275) return 0.0;
  return crest_v * std::sin(std::numbers::pi * static_cast<double>(sample) * dt_s / half_cycle_s);
}

/// The current of a resistance through one pole, exact for straight lines between the samples, at any time.
class Shown {
 public:
  Shown() {
    double shown = 0.0;
    for (std::size_t k = 0; k + 1 < samples; ++k) {
      at_sample_.push_back(shown);
      shown = after(k, dt_s, shown);
    }
    at_sample_.push_back(shown);
  }
  [[nodiscard]] double at(double time_s) const {
    if (time_s <= 0.0) return at_sample_.front();
    const auto k = std::min(samples - 2, static_cast<std::size_t>(time_s / dt_s));
    return after(k, time_s - static_cast<double>(k) * dt_s, at_sample_[k]);
  }

 private:
  static double after(std::size_t k, double since_s, double shown) {
    const double from = voltage_at(k) / resistance_ohm;
    const double slope = (voltage_at(k + 1) / resistance_ohm - from) / dt_s;
    const double lag = slope * time_constant_s;
    return from + slope * since_s - lag + (shown - from + lag) * std::exp(-since_s / time_constant_s);
  }
  std::vector<double> at_sample_;
};

/// Furthest from the closed form, as a share of the largest current.
double furthest_off(double delay_s, double step_s) {
  const Shown exact;
  Capture capture;
  capture.file = "closed form";
  capture.sample_interval_s = dt_s;
  for (std::size_t k = 0; k < samples; ++k) {
    capture.voltage_v.push_back(voltage_at(k));
    capture.current_a.push_back(exact.at(static_cast<double>(k) * dt_s - delay_s));
  }
  const std::vector<DrivenCapture> drives = {
      make_drive(capture, measure(capture), {.coarse_s = dt_s, .fine_s = dt_s, .step_s = step_s})};
  const auto residuals = make_residuals(0, drives, {});
  std::vector<double> full;
  for (const Unknown& unknown : residuals->layout()) {
    double value = 0.0;
    if (unknown.kind == Unknown::Kind::lamp) value = std::log(resistance_ohm);
    if (unknown.kind == Unknown::Kind::bandwidth) value = std::log(time_constant_s);
    if (unknown.kind == Unknown::Kind::delay) value = delay_s / delay_scale_s;
    full.push_back(value);
  }
  const std::vector<double> shown_a = residuals->current(full, 0, drives[0]);
  double off = 0.0;
  for (std::size_t k = 8; k + 8 < shown_a.size(); ++k) {
    const std::size_t sample = drives[0].first_sample + drives[0].bounds[k + 1];
    off = std::max(off, std::abs(shown_a[k] - capture.current_a[sample]));
  }
  return off / (crest_v / resistance_ohm);
}

TEST(ShortSteps, FollowAJumpWithinASample) {
  for (const double delay_s : {0.0, 7e-6, 15e-6, -11e-6}) EXPECT_LT(furthest_off(delay_s, 2.5e-6), 5e-3) << delay_s;
}

TEST(ShortSteps, OneStepASampleIsCoarser) { EXPECT_GT(furthest_off(7e-6, 0.0), 1e-2); }

/// A staircase of current beside a smooth voltage: blocks and steps are short where it rises, and only there.
TEST(ShortSteps, GoWhereTheCurrentBends) {
  constexpr std::size_t rises_at = 130;
  Capture capture;
  capture.file = "staircase";
  capture.sample_interval_s = dt_s;
  for (std::size_t k = 0; k < samples; ++k) {
    const double v = crest_v * std::sin(std::numbers::pi * static_cast<double>(k) * dt_s / half_cycle_s);
    const std::size_t phase = k % 500;
    const bool lit = phase > rises_at && phase < 500 - rises_at;
    capture.voltage_v.push_back(v);
    capture.current_a.push_back(std::copysign(lit ? 0.1 : 0.02, v));
  }
  const Figures figures = measure(capture);
  const DrivenCapture close = make_drive(capture, figures, {.coarse_s = 80e-6, .fine_s = 5e-6, .step_s = 2.5e-6});
  std::size_t short_blocks = 0;
  for (std::size_t k = 0; k < close.blocks(); ++k) {
    const std::size_t phase = (close.first_sample + close.bounds[k]) % 500;
    const bool bends = phase == rises_at || phase == 500 - rises_at - 1;
    const bool far = (phase > 20 && phase < 110) || (phase > 150 && phase < 350) || (phase > 390 && phase < 480);
    if (bends) {
      EXPECT_EQ(close.bounds[k + 1] - close.bounds[k], 1U) << phase;
      EXPECT_EQ(close.steps[k], 8U) << phase;
      ++short_blocks;
    }
    if (far) {
      EXPECT_EQ(close.bounds[k + 1] - close.bounds[k], 4U) << phase;
      EXPECT_EQ(close.steps[k], 1U) << phase;
    }
  }
  EXPECT_GE(short_blocks, 12U);
  const DrivenCapture usual = make_drive(capture, figures, {.coarse_s = 80e-6, .fine_s = 5e-6});
  EXPECT_LT(usual.blocks(), close.blocks());
  EXPECT_EQ(*std::max_element(usual.steps.begin(), usual.steps.end()), 1U);
}

}  // namespace
}  // namespace lampload::short_steps_test
