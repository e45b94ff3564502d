#pragma once
// Residuals that glitches do not rule.

#include <cmath>
#include <utility>

namespace lampload {

inline constexpr double glitch_sigmas = 6.0;  // beyond this a residual counts by its size, no longer by its square

/// Pseudo-Huber as a residual: grows like r near zero and like sqrt(r) far out. Returns value and slope.
inline std::pair<double, double> tamed(double r) {
  const double ratio = r / glitch_sigmas;
  const double root = std::sqrt(1.0 + ratio * ratio);
  const double value = glitch_sigmas * std::sqrt(2.0) * ratio / std::sqrt(root + 1.0);
  if (std::abs(ratio) < 1e-6) return {value, 1.0};
  return {value, r / (root * value)};
}

}  // namespace lampload
