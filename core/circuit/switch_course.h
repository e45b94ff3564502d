#pragma once
// The switch's current along one step of a network: a straight line, or a cubic where it rings and its slope is known.

#include <algorithm>
#include <cmath>

#include "core/circuit/network.h"

namespace lampload {

/// Integral of the square of what goes from a to b in a straight line.
inline double square_integral(double a, double b, double dt) { return dt * (a * a + a * b + b * b) / 3.0; }

/// The same of the switch's current from one instant to the next.
inline double square_integral_of_switch(const Instant& a, const Instant& b) {
  const double dt = b.time_s - a.time_s;
  if (!a.rings || !b.rings) return square_integral(a.switch_a, b.switch_a, dt);
  const double y0 = a.switch_a, y1 = b.switch_a;
  const double s0 = dt * a.current_slope, s1 = dt * b.current_slope;
  return dt / 420.0 *
         (156.0 * (y0 * y0 + y1 * y1) + 108.0 * y0 * y1 + 44.0 * (y0 * s0 - y1 * s1) + 26.0 * (y1 * s0 - y0 * s1) +
          4.0 * (s0 * s0 + s1 * s1) - 6.0 * s0 * s1);
}

/// Its largest magnitude from one instant to the next.
inline double highest_of_switch(const Instant& a, const Instant& b) {
  const double ends = std::max(std::abs(a.switch_a), std::abs(b.switch_a));
  if (!a.rings || !b.rings || !(a.current_slope * b.current_slope < 0.0)) return ends;
  // where the two tangents' parabola turns, told from either end
  const double dt = b.time_s - a.time_s;
  const double turn_s = dt * a.current_slope / (a.current_slope - b.current_slope);
  const double from_a = a.switch_a + 0.5 * turn_s * a.current_slope;
  const double from_b = b.switch_a - 0.5 * (dt - turn_s) * b.current_slope;
  return std::max(ends, std::abs(0.5 * (from_a + from_b)));
}

}  // namespace lampload
