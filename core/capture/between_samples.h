#pragma once
// Reading a waveform between its samples.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>

namespace lampload {

/// Straight-line value at a place counted in samples; past the ends, the value there. Two samples or more.
inline double between_samples(std::span<const double> x, double at) {
  const double inside = std::clamp(at, 0.0, static_cast<double>(x.size() - 1));
  const auto left = std::min(static_cast<std::size_t>(inside), x.size() - 2);
  return std::lerp(x[left], x[left + 1], inside - static_cast<double>(left));
}

}  // namespace lampload
