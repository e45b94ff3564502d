#pragma once
// Circuit breakers after IEC 60898-1: which currents must not trip, which must, as multiples of the rated current.

#include <span>

namespace lampload {

/// Rms multiples of the rated current.
struct BreakerBand {
  char curve;
  double instantaneous_no_trip;  ///< up to here it must not trip at once
  double instantaneous_trip;     ///< from here it must trip within 0.1 s
};

/// Conventional currents of IEC 60898-1: the first must be carried, the second must trip, within the conventional time.
inline constexpr double conventional_no_trip = 1.13;
inline constexpr double conventional_trip = 1.45;

/// Bands of curves B, C and D. Throws Error{input_refused} for any other curve.
const BreakerBand& breaker_band(char curve);

/// How much higher a short pulse may peak than the band says, by pulse width (time at or above half of the peak).
struct PulseFactor {
  double width_s;
  double factor;
};

/// Typical shape, widest first. From memory, no source: no standard gives it, each maker has its own. Not used unless
/// asked for.
std::span<const PulseFactor> typical_pulse_factors();

/// Interpolated in the logarithm of the width; the ends of the table hold beyond it, 1 for an empty table.
double pulse_factor(std::span<const PulseFactor> table, double width_s);

/// Highest peak that cannot trip the breaker at once: lower end of the band, rms to peak by sqrt(2), times the factor.
double no_trip_peak_a(char curve, double rating_a, double factor = 1.0);

}  // namespace lampload
