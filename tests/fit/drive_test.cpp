// The measured current seen at another time than the voltage: what a late current channel shows.

#include "fit/drive.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "core/standard_normal.h"
#include "core/waveform/figures.h"
#include "fit/lamp_residuals.h"

namespace lampload {
namespace {

/// Blocks of four samples over i(t) = 2 A + 3 A/ms t, sampled every 10 us.
Drive ramp() {
  Drive drive;
  drive.dt_s = 10e-6;
  for (int k = 0; k <= 40; ++k) {
    drive.sample_a.push_back(2.0 + 3e3 * drive.dt_s * k);
    drive.charge.push_back(k == 0 ? 0.0 : drive.charge.back() + 0.5 * (drive.sample_a[k - 1U] + drive.sample_a.back()));
  }
  for (std::size_t b = 0; b <= 40; b += 4) drive.bounds.push_back(b);
  drive.current_a.assign(10, 0.0);
  return drive;
}

TEST(ShiftedMean, IsTheCurrentAtTheLaterTime) {
  const Drive drive = ramp();
  for (const double delay_s : {-13e-6, 0.0, 4e-6, 25e-6}) {
    const double middle_s = 4.5 * 40e-6 + delay_s;
    const ShiftedMean seen = shifted_mean(drive, 4, delay_s);
    EXPECT_NEAR(seen.mean_a, 2.0 + 3e3 * middle_s, 1e-12) << delay_s;
    EXPECT_NEAR(seen.by_delay, 3e3, 1e-6) << delay_s;
  }
}

TEST(ShiftedMean, SlopeIsThatOfTheMean) {
  Drive drive = ramp();
  for (std::size_t k = 0; k < drive.sample_a.size(); ++k) drive.sample_a[k] = std::sin(0.7 * static_cast<double>(k));
  for (std::size_t k = 1; k < drive.charge.size(); ++k)
    drive.charge[k] = drive.charge[k - 1] + 0.5 * (drive.sample_a[k - 1] + drive.sample_a[k]);
  constexpr double h = 1e-9;
  for (const double delay_s : {-17e-6, 3e-6, 8e-6}) {
    const double slope =
        (shifted_mean(drive, 5, delay_s + h).mean_a - shifted_mean(drive, 5, delay_s - h).mean_a) / (2.0 * h);
    EXPECT_NEAR(shifted_mean(drive, 5, delay_s).by_delay, slope, 1e-3 * std::abs(slope) + 1e-3);
  }
}

/// A resistance on the mains at 50 kS/s, whose noisy current is read late.
Capture late_by(double delay_s, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  Capture capture;
  capture.file = "synthetic";
  capture.sample_interval_s = 20e-6;
  const double omega = 2.0 * std::numbers::pi * 50.0;
  for (std::size_t k = 0; k < 4000; ++k) {
    const double time = static_cast<double>(k) * capture.sample_interval_s;
    capture.voltage_v.push_back(325.0 * std::sin(omega * time));
    capture.current_a.push_back(0.4 * std::sin(omega * (time - delay_s)) + 0.02 * standard_normal(random));
  }
  return capture;
}

TEST(Delay, IsNotDrawnToWholeSamples) {
  constexpr double true_s = 9e-6;  // between samples that are 20 us apart
  constexpr int draws = 12;
  double sum = 0.0;
  for (std::uint64_t seed = 1; seed <= draws; ++seed) {
    const Capture capture = late_by(true_s, seed);
    std::vector<Drive> drives = {make_drive(capture, measure(capture), {.coarse_s = 40e-6, .fine_s = 5e-6})};
    const auto residuals = make_residuals(0, std::move(drives), {});
    std::vector<double> full(residuals->layout().size(), 0.0);
    full[0] = std::log(325.0 / 0.4);
    full[1] = -std::log(2.0 * std::numbers::pi * fastest_bandwidth_hz);
    std::vector<bool> free(full.size(), true);
    free[1] = false;
    for (int round = 0; round < 2; ++round) {
      residuals->weigh(full);
      residuals->set_free(free, full);
      const Solution solution = minimise(*residuals, residuals->reduce(full), {{0.0, -1.0, -6.0}, {20.0, 1.0, 6.0}});
      full = residuals->expand(solution.x);
    }
    sum += full[3] * delay_scale_s;
  }
  EXPECT_NEAR(sum / draws, true_s, 2.5e-6);
}

}  // namespace
}  // namespace lampload
