#pragma once
// Instants inside a step: where a monitored quantity rises through zero.

#include <cmath>
#include <optional>

#include "core/lamp/dual.h"

namespace lampload {

struct Slope {
  double value;
  double slope;
};

/// First t in [0, duration] where f(t) rises through zero, for an f that starts at or below it and turns at most once.
/// f(t) returns Slope. armed: an f that is above zero from the start counts as a crossing at 0 (not so just after an
/// instant was located, where f is zero but for rounding).
template <class F>
std::optional<double> rising_crossing(const F& f, double duration, bool armed) {
  const Slope start = f(0.0);
  const Slope end = f(duration);
  if (armed && (start.value > 0.0 || (start.value == 0.0 && start.slope > 0.0))) return 0.0;
  double lower = 0.0;
  double upper = duration;
  if (end.value <= 0.0) {
    if (start.slope <= 0.0 || end.slope >= 0.0) return std::nullopt;
    // far below zero for what the slopes at both ends could lift it by: four times what a curve without inflection may
    const double meet = (end.value - start.value - end.slope * duration) / (start.slope - end.slope);
    if (start.value + 4.0 * start.slope * meet <= 0.0) return std::nullopt;
    double late = duration;  // rises and falls again: does it reach zero between?
    for (int i = 0; i < 40 && f(upper).value <= 0.0; ++i) {
      upper = 0.5 * (lower + late);
      (f(upper).slope > 0.0 ? lower : late) = upper;
    }
    if (f(upper).value <= 0.0) return std::nullopt;
    lower = 0.0;
  }
  // Newton, kept inside the bracket; after a step this short the next one would be rounding
  double t = upper;
  for (int i = 0; i < 100 && upper - lower > 1e-15 * duration; ++i) {
    const Slope at = f(t);
    (at.value > 0.0 ? upper : lower) = t;
    const double next = t - at.value / at.slope;
    const bool inside = next > lower && next < upper;
    if (inside && std::abs(next - t) < 1e-9 * duration) return next;
    t = inside ? next : 0.5 * (lower + upper);
  }
  return upper;
}

/// The instant with its derivatives: one Newton step in T from the number t. f_at_t: the quantity at t held fixed.
template <class T>
T with_derivatives(double t, const T& f_at_t, double slope, double duration) {
  // a grazing crossing has no useful derivative
  if (!(std::abs(slope) * duration > 1e-9)) return T(t);
  return T(t) - (f_at_t - value_of(f_at_t)) / slope;
}

}  // namespace lampload
