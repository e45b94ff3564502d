#include "fit/voltage_noise.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include "fit/local_quadratic.h"

namespace lampload {
namespace {

/// Mean of the smallest nine tenths.
double trimmed_mean(std::vector<double> values) {
  if (values.empty()) return 0.0;
  const auto kept = std::max<std::size_t>(1, values.size() * 9 / 10);
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(kept - 1), values.end());
  return std::accumulate(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(kept), 0.0) /
         static_cast<double>(kept);
}

}  // namespace

double noise_of(std::span<const double> samples, double step) {
  std::vector<double> third;
  third.reserve(samples.size());
  for (std::size_t k = 0; k + 3 < samples.size(); ++k) {
    third.push_back(std::abs(samples[k + 3] - 3.0 * samples[k + 2] + 3.0 * samples[k + 1] - samples[k]));
  }
  // White noise of one unit gives third differences of sqrt(20) units; the mean of the smallest nine tenths of the
  // magnitudes of a normal variable is 0.6575 of its standard deviation. (A median would see only the digitiser's
  // steps.)
  const double white = trimmed_mean(std::move(third)) / (0.6575 * std::sqrt(20.0));
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

Smooth without_noise(std::span<const double> samples, std::span<const std::size_t> jumps, double noise, double step,
                     std::size_t half_width) {
  constexpr double stubborn_share = 0.15;    // of a digitiser step: what averaging over a window leaves of its error
  constexpr double most_bend = 3.5;          // of the noise of three neighbours' mean: more is a kink
  constexpr double least_noise_steps = 0.4;  // a digitiser's step and the little noise that goes with it
  const std::size_t n = samples.size();
  Smooth smooth{{samples.begin(), samples.end()}, std::vector<double>(n, noise), std::vector<std::size_t>(n, 1)};
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
  const auto window = [&](std::size_t k, std::size_t half) {
    return std::pair{std::max(from[k], k >= half ? k - half : 0), std::min(to[k], k + half)};
  };

  // Chance alone must not leave a single sample rough: a window's scatter is judged together with its neighbours'.
  const double expected = std::max(noise, least_noise_steps * step);
  std::vector<bool> done(n, false);
  for (std::size_t half = half_width; half >= 3; half /= 2) {
    std::vector<LocalQuadratic> fits(n);
    std::vector<double> square(n + 1, 0.0);  // running sum of the mean squares
    RunningQuadratic running(samples);
    for (std::size_t k = 0; k < n; ++k) {
      const auto [first, last] = window(k, half);
      if (last - first >= 5) fits[k] = running.through(first, last);
      square[k + 1] = square[k] + fits[k].scatter * fits[k].scatter;
    }
    KinkTest kinks(samples, std::sqrt(3.0) * most_bend * expected);
    for (std::size_t k = 0; k < n; ++k) {
      const auto [first, last] = window(k, half);
      if (done[k] || last - first < 5) continue;
      const double scatter = std::sqrt((square[last + 1] - square[first]) / static_cast<double>(last + 1 - first));
      const double tolerance = 1.0 + 2.5 / std::sqrt(2.0 * static_cast<double>(last - first));
      if (std::min(scatter, fits[k].scatter) > tolerance * expected || kinks.kinked(fits[k], first, last)) continue;
      done[k] = true;
      smooth.value[k] = fits[k].at(k);
      const double gain = quadratic_gain(first, last, k);
      smooth.sd[k] = std::min(expected, std::hypot(expected * std::sqrt(gain), stubborn_share * step));
      smooth.window[k] = last - first + 1;
    }
  }
  return smooth;
}

}  // namespace lampload
