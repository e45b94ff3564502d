#include "core/standards/breaker.h"

#include <gtest/gtest.h>

#include <numbers>

#include "core/error.h"

namespace lampload::standards_breaker_test {
namespace {

// IEC 60898-1: B 3 to 5, C 5 to 10, D 10 to 20 times the rated current.
TEST(Breaker, InstantaneousBands) {
  EXPECT_EQ(breaker_band('B').instantaneous_no_trip, 3.0);
  EXPECT_EQ(breaker_band('B').instantaneous_trip, 5.0);
  EXPECT_EQ(breaker_band('C').instantaneous_no_trip, 5.0);
  EXPECT_EQ(breaker_band('C').instantaneous_trip, 10.0);
  EXPECT_EQ(breaker_band('D').instantaneous_no_trip, 10.0);
  EXPECT_EQ(breaker_band('D').instantaneous_trip, 20.0);
  EXPECT_THROW(breaker_band('Q'), Error);
}

TEST(Breaker, PeakThatCannotTrip) {
  EXPECT_NEAR(no_trip_peak_a('B', 16.0), 3.0 * 16.0 * std::numbers::sqrt2, 1e-9);
  EXPECT_NEAR(no_trip_peak_a('C', 10.0, 2.0), 5.0 * 10.0 * std::numbers::sqrt2 * 2.0, 1e-9);
}

TEST(Breaker, ShorterPulsesMayPeakHigher) {
  EXPECT_EQ(pulse_factor({}, 1e-4), 1.0);
  double last = 0.0;
  for (double width_s = 20e-3; width_s > 50e-6; width_s *= 0.9) {
    const double factor = pulse_factor(typical_pulse_factors(), width_s);
    EXPECT_GE(factor, last);
    EXPECT_GE(factor, 1.0);
    last = factor;
  }
  EXPECT_NEAR(pulse_factor(typical_pulse_factors(), 1e-3), 1.7, 1e-9);
}

}  // namespace
}  // namespace lampload::standards_breaker_test
