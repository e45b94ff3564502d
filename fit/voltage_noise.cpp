#include "fit/voltage_noise.h"

#include <algorithm>
#include <cmath>

namespace lampload {
namespace {

double median(std::vector<double> values) {
  if (values.empty()) return 0.0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

struct LocalFit {
  double value;    ///< of the quadratic at the sample itself
  double scatter;  ///< rms of what is left
};

/// Quadratic through samples [first, last], evaluated at `at`.
LocalFit quadratic(std::span<const double> y, std::size_t first, std::size_t last, std::size_t at) {
  // Moments about the window's middle keep the sums small.
  const double middle = 0.5 * static_cast<double>(first + last);
  double s0 = 0.0;
  double s2 = 0.0;
  double s4 = 0.0;
  double b0 = 0.0;
  double b1 = 0.0;
  double b2 = 0.0;
  for (std::size_t k = first; k <= last; ++k) {
    const double t = static_cast<double>(k) - middle;
    const double tt = t * t;
    s0 += 1.0;
    s2 += tt;
    s4 += tt * tt;
    b0 += y[k];
    b1 += y[k] * t;
    b2 += y[k] * tt;
  }
  const double det = s0 * s4 - s2 * s2;
  const double c0 = (b0 * s4 - b2 * s2) / det;
  const double c1 = b1 / s2;
  const double c2 = (b2 * s0 - b0 * s2) / det;
  double square = 0.0;
  for (std::size_t k = first; k <= last; ++k) {
    const double t = static_cast<double>(k) - middle;
    const double left = y[k] - (c0 + t * (c1 + t * c2));
    square += left * left;
  }
  const double t = static_cast<double>(at) - middle;
  return {c0 + t * (c1 + t * c2), std::sqrt(square / std::max(1.0, s0 - 3.0))};
}

}  // namespace

double noise_of(std::span<const double> samples, double step) {
  std::vector<double> third;
  third.reserve(samples.size());
  for (std::size_t k = 0; k + 3 < samples.size(); ++k) {
    third.push_back(std::abs(samples[k + 3] - 3.0 * samples[k + 2] + 3.0 * samples[k + 1] - samples[k]));
  }
  // White noise of one unit gives third differences of sqrt(20) units; 0.6745 turns a median into a standard deviation.
  const double white = median(std::move(third)) / (0.6745 * std::sqrt(20.0));
  return std::max(white, step / std::sqrt(12.0));
}

std::vector<std::size_t> jumps_of(std::span<const double> samples, double slew_per_sample, double noise) {
  std::vector<std::size_t> jumps;
  const double limit = 3.0 * slew_per_sample + 7.0 * noise;
  for (std::size_t k = 0; k + 1 < samples.size(); ++k) {
    if (std::abs(samples[k + 1] - samples[k]) > limit) jumps.push_back(k);
  }
  return jumps;
}

std::vector<double> without_noise(std::span<const double> samples, std::span<const std::size_t> jumps, double noise,
                                  std::size_t half_width) {
  const std::size_t n = samples.size();
  std::vector<double> smooth(samples.begin(), samples.end());
  if (n < 8 || noise <= 0.0) return smooth;

  // The stretch of samples that a window may use: between the last jump before and the first jump after.
  std::vector<std::size_t> from(n, 0);
  std::vector<std::size_t> to(n, n - 1);
  std::size_t begin = 0;
  for (const std::size_t jump : jumps) {
    for (std::size_t k = begin; k <= jump; ++k) to[k] = jump;
    for (std::size_t k = begin; k <= jump; ++k) from[k] = begin;
    begin = jump + 1;
  }
  for (std::size_t k = begin; k < n; ++k) from[k] = begin;

  for (std::size_t k = 0; k < n; ++k) {
    for (std::size_t half = half_width; half >= 3; half /= 2) {
      const std::size_t first = std::max(from[k], k >= half ? k - half : 0);
      const std::size_t last = std::min(to[k], k + half);
      if (last - first < 5) break;
      const LocalFit fit = quadratic(samples, first, last, k);
      const double tolerance = 1.0 + 2.5 / std::sqrt(2.0 * static_cast<double>(last - first));
      if (fit.scatter <= tolerance * noise) {
        smooth[k] = fit.value;
        break;
      }
    }
  }
  return smooth;
}

}  // namespace lampload
