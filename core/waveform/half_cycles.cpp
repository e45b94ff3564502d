#include "core/waveform/half_cycles.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "core/capture/between_samples.h"

namespace lampload {
namespace {

/// Mean over the half cycles of one polarity, by mains phase over 180 degrees; their own sign is taken off.
std::vector<double> of_polarity(std::span<const double> x, double offset, const CycleWindow& window, double phase_deg,
                                bool negative, std::size_t points) {
  std::vector<double> mean(points, 0.0);
  const double cycle = window.cycle_samples;
  // The first rising zero crossing at or after the window's start.
  const double first = static_cast<double>(window.first) + cycle * std::fmod(360.0 - phase_deg, 360.0) / 360.0;
  const double end =
      static_cast<double>(std::min(x.size() - 1, window.first + static_cast<std::size_t>(window.samples())));
  double halves = 0.0;
  for (double at = first + (negative ? 0.5 * cycle : 0.0); at + 0.5 * cycle <= end + 1.0; at += cycle) {
    for (std::size_t j = 0; j < points; ++j) {
      const double k = at + 0.5 * cycle * (static_cast<double>(j) + 0.5) / static_cast<double>(points);
      mean[j] += (between_samples(x, std::min(k, end)) - offset) * (negative ? -1.0 : 1.0);
    }
    halves += 1.0;
  }
  if (halves == 0.0) return {};
  for (double& value : mean) value /= halves;
  return mean;
}

double top_of(const std::vector<double>& x) {
  double top = 0.0;
  for (const double value : x) top = std::max(top, std::abs(value));
  return top;
}

/// Phase of the steepest rise (or fall) of |x| anywhere, if it is a jump of a good share of the top.
std::optional<double> jump_anywhere(const std::vector<double>& x, bool rises) {
  constexpr double within_deg = 1.5;
  constexpr double clear = 0.4;  // of the top: a lamp's own pulse begins and ends more slowly
  const std::size_t n = x.size();
  const auto span = static_cast<std::size_t>(std::max(1.0, std::round(within_deg / 180.0 * static_cast<double>(n))));
  const auto change = [&](std::size_t j) { return (std::abs(x[j + span]) - std::abs(x[j])) * (rises ? 1.0 : -1.0); };
  double largest = 0.0;
  for (std::size_t j = 0; j + span < n; ++j) largest = std::max(largest, change(j));
  if (largest < clear * top_of(x)) return std::nullopt;
  // All spans that hold the whole jump are alike: their middle is the edge.
  double sum = 0.0, count = 0.0;
  for (std::size_t j = 0; j + span < n; ++j) {
    if (change(j) < 0.9 * largest) continue;
    sum += static_cast<double>(j) + 0.5 * static_cast<double>(span) + 0.5;
    count += 1.0;
  }
  return sum / count * 180.0 / static_cast<double>(n);
}

/// Phase of the steepest rise (or fall) of |x| near one.
std::optional<double> edge_near(const std::vector<double>& x, double near_deg, bool rises) {
  constexpr double reach_deg = 25.0;
  constexpr double clear = 0.25;  // of the top
  const auto n = static_cast<double>(x.size());
  const auto index = [&](double deg) { return static_cast<std::size_t>(std::clamp(deg / 180.0 * n, 0.0, n - 2.0)); };
  double steepest = 0.0;
  for (std::size_t j = index(near_deg - reach_deg); j < index(near_deg + reach_deg); ++j) {
    const double step = (std::abs(x[j + 1]) - std::abs(x[j])) * (rises ? 1.0 : -1.0);
    steepest = std::max(steepest, step);
  }
  // An edge that took several points is in their middle.
  double sum = 0.0, weight = 0.0;
  for (std::size_t j = index(near_deg - reach_deg); j < index(near_deg + reach_deg); ++j) {
    const double step = (std::abs(x[j + 1]) - std::abs(x[j])) * (rises ? 1.0 : -1.0);
    if (step < 0.3 * steepest) continue;
    sum += step * (static_cast<double>(j) + 1.0);
    weight += step;
  }
  if (!(weight > clear * top_of(x))) return std::nullopt;
  return sum / weight * 180.0 / n;
}

/// How much later the edge of the positive half cycles is. Edges far apart from each other are far from the cut's,
/// which is read from both together.
std::optional<double> apart_deg(const std::vector<double>& positive, const std::vector<double>& negative,
                                double near_deg, bool rises) {
  for (const bool anywhere : {true, false}) {
    const auto find = [&](const auto& x) { return anywhere ? jump_anywhere(x, rises) : edge_near(x, near_deg, rises); };
    const auto first = find(positive), second = find(negative);
    if (first && second) return *first - *second;
  }
  return std::nullopt;
}

double half_rms(const std::vector<double>& x) {
  double squares = 0.0;
  for (const double value : x) squares += value * value;
  return x.empty() ? 0.0 : std::sqrt(squares / static_cast<double>(x.size()));
}

}  // namespace

HalfCycleDifference half_cycle_difference(std::span<const double> voltage_v, std::span<const double> current_a,
                                          double current_offset_a, const CycleWindow& window, double phase_deg,
                                          const Cut& cut) {
  const std::size_t points = fold_points(window);
  const auto of_current = [&](bool negative) {
    return of_polarity(current_a, current_offset_a, window, phase_deg, negative, points);
  };
  const std::vector<double> positive = of_current(false);
  const std::vector<double> negative = of_current(true);
  HalfCycleDifference found;
  if (positive.empty() || negative.empty()) return found;
  const double all =
      std::sqrt(0.5 * (half_rms(positive) * half_rms(positive) + half_rms(negative) * half_rms(negative)));
  if (all > 0.0) found.current_share = (half_rms(positive) - half_rms(negative)) / all;
  if (cut.edge == Edge::none) return found;

  const bool leading = cut.edge == Edge::leading;
  const double near_deg = leading ? 180.0 - cut.conduction_angle_deg : cut.conduction_angle_deg;
  if (leading && !cut.supply_side_voltage) {
    found.edge_deg = apart_deg(of_polarity(voltage_v, 0.0, window, phase_deg, false, points),
                               of_polarity(voltage_v, 0.0, window, phase_deg, true, points), near_deg, true);
  }
  if (!found.edge_deg) found.edge_deg = apart_deg(positive, negative, near_deg, leading);
  return found;
}

}  // namespace lampload
