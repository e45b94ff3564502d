// The measured current seen at another time than the voltage: what a late current channel shows.

#include "fit/drive.h"

#include <gtest/gtest.h>

#include <cmath>

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

}  // namespace
}  // namespace lampload
