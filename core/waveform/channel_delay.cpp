#include "core/waveform/channel_delay.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "core/waveform/cut.h"

namespace lampload {
namespace {

constexpr double kLongestEdge = 60e-6;  // [s] of the voltage
constexpr double kEarliest = 100e-6;    // [s] before the edge
constexpr double kPulse = 200e-6;       // [s] after the edge, in which the current has its peak
constexpr double kRise = 0.1;           // of the edge, and of the peak: here both begin
constexpr double kLeastEarly = 2e-6;    // [s], and
constexpr double kOfASample = 0.6;      // of a sample: less is not clear
constexpr std::size_t kFewestEdges = 4;

/// First sample instant, with its fraction, at which |x - x[base]| passes `level`, looking from `first` to `last`.
std::optional<double> passes(std::span<const double> x, double base, double level, std::size_t first,
                             std::size_t last) {
  for (std::size_t k = first + 1; k <= last; ++k) {
    const double before = std::abs(x[k - 1] - base);
    const double here = std::abs(x[k] - base);
    if (before < level && here >= level) return static_cast<double>(k - 1) + (level - before) / (here - before);
  }
  return std::nullopt;
}

}  // namespace

std::optional<double> early_current_s(std::span<const double> voltage_v, std::span<const double> current_a,
                                      double interval_s, const CycleWindow& window) {
  const auto samples_in = [&](double seconds) {
    return static_cast<std::size_t>(std::max(1.0, std::ceil(seconds / interval_s)));
  };
  const std::size_t edge = samples_in(kLongestEdge);
  const std::size_t early = samples_in(kEarliest);
  const std::size_t pulse = samples_in(kPulse);
  const std::size_t end = std::min(voltage_v.size(), window.first + static_cast<std::size_t>(window.samples()));
  std::vector<double> leads;
  for (const std::size_t jump : voltage_jumps(voltage_v, interval_s)) {
    if (jump < window.first + edge + early + 1 || jump + pulse >= end) continue;
    const double low = voltage_v[jump - edge];
    const double high = voltage_v[jump + 1];
    if (std::abs(high) < 2.0 * std::abs(low)) continue;  // a trailing cut
    const auto rises = passes(voltage_v, low, kRise * std::abs(high - low), jump - edge, jump + 1);
    if (!rises) continue;
    const double base = current_a[jump - edge - early];
    double peak = 0.0;
    for (std::size_t k = jump - edge; k <= jump + pulse; ++k) peak = std::max(peak, std::abs(current_a[k] - base));
    const auto begins = passes(current_a, base, kRise * peak, jump - edge - early, jump + pulse);
    if (begins) leads.push_back((*rises - *begins) * interval_s);
  }
  if (leads.size() < kFewestEdges) return std::nullopt;
  const auto middle = leads.begin() + static_cast<std::ptrdiff_t>(leads.size() / 2);
  std::nth_element(leads.begin(), middle, leads.end());
  if (*middle < std::max(kLeastEarly, kOfASample * interval_s) || *middle > kLongestEdge) return std::nullopt;
  return *middle;
}

}  // namespace lampload
