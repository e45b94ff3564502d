#include "core/waveform/edge_times.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "core/waveform/cut.h"

namespace lampload {
namespace {

constexpr double longest_edge_s = 60e-6;  // of the voltage
constexpr double earliest_s = 100e-6;     // before the edge
constexpr double quiet_s = 1e-3;          // ahead of it, without another
constexpr double rest_s = 200e-6;         // before all that, in which the current rests
constexpr double pulse_s = 200e-6;        // after the edge, in which the current has its peak

std::size_t edge_samples(double seconds, double interval_s) {
  return static_cast<std::size_t>(std::max(1.0, std::ceil(seconds / interval_s)));
}

/// First instant at which |x - base| passes `level`, looking from `first` to `last`.
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

std::vector<VoltageRise> voltage_rises(std::span<const double> voltage_v, double interval_s,
                                       const CycleWindow& window) {
  const auto samples_in = [&](double seconds) { return edge_samples(seconds, interval_s); };
  const std::size_t edge = samples_in(longest_edge_s);
  const std::size_t early = samples_in(earliest_s);
  const std::size_t end = std::min(voltage_v.size(), window.first + static_cast<std::size_t>(window.samples()));
  std::vector<VoltageRise> found;
  const std::vector<std::size_t> jumps = voltage_jumps(voltage_v, interval_s);
  for (std::size_t n = 0; n < jumps.size(); ++n) {
    const std::size_t jump = jumps[n];
    // Supply and lamp may ring: only the first jump of a burst is the dimmer's.
    if (n > 0 && jump - jumps[n - 1] < samples_in(quiet_s)) continue;
    if (jump < window.first + edge + early + 1 || jump + samples_in(pulse_s) >= end) continue;
    const double low = voltage_v[jump - edge];
    const double high = voltage_v[jump + 1];
    if (std::abs(high) < 2.0 * std::abs(low)) continue;  // a trailing cut
    const auto ahead = voltage_v.subspan(jump - edge - early, early);
    const auto [least, most] = std::minmax_element(ahead.begin(), ahead.end());
    if (*most - *least > 0.1 * std::abs(high - low)) continue;  // within a ringing that rose earlier
    found.push_back({jump, low, high});
  }
  return found;
}

std::vector<EdgeTimes> edge_times(std::span<const double> voltage_v, std::span<const double> current_a,
                                  double interval_s, const CycleWindow& window) {
  constexpr double of_all = 0.1;   // of the current's peak: less is no jump that an edge of the voltage makes
  constexpr double of_noise = 10;  // times what the current varies by ahead of it
  const auto samples_in = [&](double seconds) { return edge_samples(seconds, interval_s); };
  const std::size_t edge = samples_in(longest_edge_s);
  const std::size_t early = samples_in(earliest_s);
  const std::size_t pulse = samples_in(pulse_s);
  const std::size_t end = std::min(current_a.size(), window.first + static_cast<std::size_t>(window.samples()));
  const auto [lowest, highest] = std::minmax_element(current_a.begin() + static_cast<std::ptrdiff_t>(window.first),
                                                     current_a.begin() + static_cast<std::ptrdiff_t>(end));
  const double largest = 0.5 * (*highest - *lowest);
  std::vector<EdgeTimes> edges;
  for (const auto& [jump, low, high] : voltage_rises(voltage_v, interval_s, window)) {
    const auto volts = [&, jump = jump, low = low, high = high](double share) {
      return passes(voltage_v, low, share * std::abs(high - low), jump - edge, jump + 1);
    };
    const std::size_t first = jump - edge - early;
    const double base = current_a[first];
    std::size_t top = jump - edge;
    for (std::size_t k = top; k <= jump + pulse; ++k) {
      if (std::abs(current_a[k] - base) > std::abs(current_a[top] - base)) top = k;
    }
    const double peak = std::abs(current_a[top] - base);
    const std::size_t rest = std::min(samples_in(rest_s), first);
    const auto ahead = current_a.subspan(first - rest, rest + 1);
    const auto [least, most] = std::minmax_element(ahead.begin(), ahead.end());
    if (peak < of_all * largest || peak < of_noise * (*most - *least)) continue;
    const auto amperes = [&, jump = jump](double share) {
      return passes(current_a, base, share * peak, first, jump + pulse);
    };
    const auto v10 = volts(0.1), v90 = volts(0.9);
    const auto i10 = amperes(0.1), i50 = amperes(0.5), i90 = amperes(0.9);
    if (!v10 || !v90 || !i10 || !i50 || !i90) continue;
    edges.push_back({*v10, *v90, *i10, *i50, *i90});
  }
  return edges;
}

}  // namespace lampload
