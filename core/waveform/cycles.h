#pragma once
// Mains cycles in sampled waveforms: their frequency, and averages over whole ones.

#include <cmath>
#include <cstddef>
#include <optional>
#include <span>

namespace lampload {

/// A stretch of whole cycles. It begins at a sample and may end between two.
struct CycleWindow {
  std::size_t first = 0;
  double cycle_samples = 0.0;  ///< samples in one cycle, not a whole number in general
  std::size_t cycles = 0;

  [[nodiscard]] double samples() const { return cycle_samples * static_cast<double>(cycles); }
};

/// Frequency of a periodic waveform, looked for between 45 and 65 Hz (and within 10 % of `expected_hz` if given), from
/// the lag after which the waveform repeats: any shape will do, so a cut one is no obstacle. Needs one whole cycle;
/// records under two cycles are taken to be half-wave symmetric. Empty: nothing repeats there.
std::optional<double> mains_frequency(std::span<const double> values, double interval_s,
                                      std::optional<double> expected_hz = std::nullopt);

/// Whole cycles in `available` samples from `first`; a record that lacks up to 2 % of a cycle counts as whole.
CycleWindow whole_cycles(std::size_t first, std::size_t available, double cycle_samples);

/// Calls use(k, offset, weight) for every sample of the window: the trapezoid rule with a fractional end, so that the
/// weighted sum is an integral over whole cycles, in samples. `total` is the number of samples in the record: what the
/// end reaches beyond is taken from one cycle earlier, or held where there is none.
template <typename Use>
void for_each_weighted(const CycleWindow& window, std::size_t total, Use use) {
  const double length = window.samples();
  const auto whole = static_cast<std::size_t>(length);
  const double rest = length - static_cast<double>(whole);
  const auto back = static_cast<std::size_t>(std::lround(window.cycle_samples));
  const auto visit = [&](std::size_t offset, double weight) {
    const std::size_t k = window.first + offset;
    use(k < total ? k : k >= back ? k - back : total - 1, offset, weight);
  };
  visit(0, 0.5);
  for (std::size_t offset = 1; offset < whole; ++offset) visit(offset, 1.0);
  visit(whole, 0.5 + rest - 0.5 * rest * rest);
  if (rest > 0.0) visit(whole + 1, 0.5 * rest * rest);
}

/// Mean of sample(k) over the window.
template <typename Sample>
double mean_over(const CycleWindow& window, std::size_t total, Sample sample) {
  double sum = 0.0;
  for_each_weighted(window, total, [&](std::size_t k, std::size_t, double weight) { sum += weight * sample(k); });
  return sum / window.samples();
}

}  // namespace lampload
