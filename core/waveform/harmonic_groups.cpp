#include "core/waveform/harmonic_groups.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

namespace lampload {
namespace {

constexpr std::size_t most_windows = 5;

/// Mean squares of the components at whole multiples of 1/cycles of the mains frequency; [0]: square of the mean.
std::vector<double> mean_squares(std::span<const double> values, const CycleWindow& window, std::size_t count) {
  std::vector<std::complex<double>> sums(count + 1);
  const double turn = -2.0 * std::numbers::pi / window.samples();
  for_each_weighted(window, values.size(), [&](std::size_t k, std::size_t offset, double weight) {
    const std::complex<double> step = std::polar(1.0, turn * static_cast<double>(offset));
    std::complex<double> term = weight * values[k];
    for (std::complex<double>& sum : sums) {
      sum += term;
      term *= step;
    }
  });
  std::vector<double> squares;
  for (const std::complex<double>& sum : sums) squares.push_back(2.0 * std::norm(sum / window.samples()));
  squares[0] /= 2.0;
  return squares;
}

}  // namespace

HarmonicGroups harmonic_groups(std::span<const double> values, const CycleWindow& window, double frequency_hz) {
  constexpr double between_50_and_60_hz = 55.0;
  const std::size_t standard = frequency_hz < between_50_and_60_hz ? 10 : 12;
  HarmonicGroups groups;
  groups.cycles = std::min(standard, window.cycles);
  if (groups.cycles == 0) return groups;
  groups.windows = std::min(most_windows, window.cycles / groups.cycles);
  const std::size_t n = groups.cycles;
  const std::size_t reach = n / 2;
  const auto resolved = static_cast<std::size_t>(0.5 * window.cycle_samples * static_cast<double>(n)) - 1;
  const std::size_t highest = std::min<std::size_t>(kHighestHarmonic, resolved > reach ? (resolved - reach) / n : 0);
  for (std::size_t w = 0; w < groups.windows; ++w) {
    CycleWindow part = window;
    part.first += static_cast<std::size_t>(std::lround(static_cast<double>(w * n) * window.cycle_samples));
    part.cycles = n;
    const std::vector<double> squares = mean_squares(values, part, highest * n + reach);
    groups.rms[0] += squares[0];
    for (std::size_t order = 1; order <= highest; ++order) {
      const std::size_t middle = order * n;
      // The two outermost components of an even number of cycles stand half way to the next group.
      double sum = squares[middle];
      for (std::size_t away = 1; away <= reach; ++away) {
        const double share = 2 * away == n ? 0.5 : 1.0;
        sum += share * (squares[middle - away] + squares[middle + away]);
      }
      groups.rms[order] += sum;
    }
  }
  for (double& rms : groups.rms) rms = std::sqrt(rms / static_cast<double>(groups.windows));
  return groups;
}

}  // namespace lampload
