#include "core/waveform/harmonics.h"

#include <algorithm>
#include <numbers>

namespace lampload {

std::vector<std::complex<double>> harmonic_amplitudes(std::span<const double> values, const CycleWindow& window,
                                                      std::size_t highest) {
  std::vector<std::complex<double>> amplitudes(highest + 1);
  // Fifty cycles tell what a thousand would; a long record stays cheap.
  CycleWindow part = window;
  part.cycles = std::min<std::size_t>(window.cycles, 50);
  const auto resolved = static_cast<std::size_t>(std::max(0.0, std::ceil(0.5 * part.cycle_samples) - 1.0));
  const std::size_t count = std::min(highest, resolved);
  const double turn = -2.0 * std::numbers::pi / part.cycle_samples;
  for_each_weighted(part, values.size(), [&](std::size_t k, std::size_t offset, double weight) {
    const std::complex<double> step = std::polar(1.0, turn * static_cast<double>(offset));
    std::complex<double> term = weight * values[k];
    amplitudes[0] += term;
    for (std::size_t h = 1; h <= count; ++h) {
      term *= step;
      amplitudes[h] += term;
    }
  });
  amplitudes[0] /= part.samples();
  for (std::size_t h = 1; h <= count; ++h) amplitudes[h] *= 2.0 / part.samples();
  return amplitudes;
}

double total_harmonic_distortion(std::span<const std::complex<double>> amplitudes) {
  if (amplitudes.size() < 2 || std::abs(amplitudes[1]) == 0.0) return 0.0;
  double squares = 0.0;
  for (std::size_t h = 2; h < amplitudes.size(); ++h) squares += std::norm(amplitudes[h]);
  return std::sqrt(squares) / std::abs(amplitudes[1]);
}

}  // namespace lampload
