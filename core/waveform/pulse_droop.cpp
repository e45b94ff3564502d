#include "core/waveform/pulse_droop.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "core/waveform/mains_sine.h"

namespace lampload {

std::optional<PulseDroop> pulse_droop(std::span<const double> current_a, const CycleWindow& window, double frequency_hz,
                                      double phase_deg) {
  constexpr double pi = std::numbers::pi;
  constexpr double flows = 0.25;         // of the peak
  constexpr double longest_deg = 100.0;  // longer is no pulse
  constexpr double shortest_rest_deg = 40.0;
  constexpr double least = 0.02;
  const std::size_t n = fold_points(window);
  const std::vector<double> folded = folded_half_cycle(current_a, window, n);
  // Once round from the peak; the next half cycle is the same inverted.
  const auto at = [&](std::size_t j) { return (j / n % 2 == 0 ? 1.0 : -1.0) * folded[j % n]; };
  const auto in_points = [&](double deg) { return static_cast<std::size_t>(deg / 180.0 * static_cast<double>(n)); };
  std::size_t top = 0;
  for (std::size_t j = 0; j < n; ++j) {
    if (std::abs(folded[j]) > std::abs(folded[top])) top = j;
  }
  const double sign = folded[top] < 0.0 ? -1.0 : 1.0;
  const double peak = std::abs(folded[top]);
  if (!(peak > 0.0)) return std::nullopt;
  // The pulse reaches as far as a current in its own direction flows; its tail may be long.
  std::size_t last = top + n;
  while (last < top + 2 * n && sign * -at(last) > 0.02 * peak) ++last;
  std::size_t first = top + n;
  while (first > top && sign * -at(first) > flows * peak) --first;
  if (last - first > in_points(longest_deg)) return std::nullopt;
  // A few degrees beside the pulse are its own edges.
  const std::size_t from = last + in_points(2.0);
  const std::size_t to = first + n - in_points(4.0);
  if (to < from + in_points(shortest_rest_deg)) return std::nullopt;

  // behind = c * cos(phase) - d: what the mains' slope drives through a capacitance, and what is left of the pulse.
  double cc = 0.0, c1 = 0.0, ci = 0.0, i1 = 0.0, count = 0.0;
  for (std::size_t j = from; j < to; ++j) {
    const double slope = std::cos((static_cast<double>(j) / static_cast<double>(n) * 180.0 + phase_deg) * pi / 180.0);
    const double i = sign * -at(j);
    cc += slope * slope;
    c1 += slope;
    ci += slope * i;
    i1 += i;
    count += 1.0;
  }
  const double determinant = cc * count - c1 * c1;
  if (!(determinant > 1e-6 * cc * count)) return std::nullopt;
  const double through = (ci * count - i1 * c1) / determinant;
  // Counted along the pulse, which `sign` has turned, a capacitance draws against the slope of the half cycle before.
  const double behind = sign * through < 0.0 ? -(i1 * cc - ci * c1) / determinant : -i1 / count;
  if (behind < least * peak) return std::nullopt;

  double charge = 0.0;  // in samples of the fold
  for (std::size_t j = first; j < last; ++j) charge += sign * -at(j);
  charge *= 0.5 / frequency_hz / static_cast<double>(n);
  PulseDroop droop;
  droop.behind_a = behind;
  droop.of_peak = behind / peak;
  // The pulse pulls the resting level from one side to the other.
  droop.corner_hz = 2.0 * behind / charge / (2.0 * pi);
  droop.lead_deg = std::atan(droop.corner_hz / frequency_hz) * 180.0 / pi;
  return droop;
}

}  // namespace lampload
