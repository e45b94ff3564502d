#include "core/waveform/channel_delay.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <numeric>
#include <utility>
#include <vector>

#include "core/waveform/edge_times.h"
#include "core/waveform/harmonics.h"
#include "core/waveform/mains_sine.h"

namespace lampload {
namespace {

constexpr double least_s = 2e-6;     // and
constexpr double of_a_sample = 0.6;  // less is not clear
constexpr double longest_s = 60e-6;  // beyond, it is another edge, or one far too early
constexpr std::size_t fewest_edges = 4;

/// The median of seconds(edge), if it is clear and there are edges enough.
template <typename Seconds>
std::optional<double> clear_median(const std::vector<EdgeTimes>& edges, double interval_s, Seconds seconds) {
  if (edges.size() < fewest_edges) return std::nullopt;
  std::vector<double> values;
  for (const EdgeTimes& edge : edges) values.push_back(seconds(edge));
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  if (*middle < std::max(least_s, of_a_sample * interval_s) || *middle > longest_s) return std::nullopt;
  return *middle;
}

/// Instant at which the current's steepest jump around a voltage edge begins: from a quarter cycle before it until
/// shortly after. Empty: no jump there makes a good share of the current's peak.
std::optional<double> steepest_jump(std::span<const double> current_a, double interval_s, const CycleWindow& window,
                                    std::size_t voltage_edge, double largest) {
  constexpr double jump_s = 20e-6;
  constexpr double after_s = 100e-6;
  constexpr double of_peak = 0.3;
  const auto samples_in = [&](double seconds) {
    return static_cast<std::size_t>(std::max(1.0, std::ceil(seconds / interval_s)));
  };
  const std::size_t span = samples_in(jump_s);
  const auto quarter = static_cast<std::size_t>(window.cycle_samples / 4.0);
  if (voltage_edge < quarter + span || voltage_edge + samples_in(after_s) + span >= current_a.size())
    return std::nullopt;
  double top = 0.0;
  std::size_t at = 0;
  for (std::size_t k = voltage_edge - quarter; k <= voltage_edge + samples_in(after_s); ++k) {
    const double rise = std::abs(current_a[k + span] - current_a[k]);
    if (std::abs(current_a[k + span]) < std::abs(current_a[k]) || rise <= top) continue;
    top = rise;
    at = k;
  }
  if (top < of_peak * largest) return std::nullopt;
  // Back to where a tenth of the jump is reached.
  for (std::size_t k = at + span; k > at; --k) {
    const double here = std::abs(current_a[k] - current_a[at]), before = std::abs(current_a[k - 1] - current_a[at]);
    if (before < 0.1 * top && here >= 0.1 * top)
      return static_cast<double>(k - 1) + (0.1 * top - before) / (here - before);
  }
  return static_cast<double>(at);
}

/// The current jumps longer before the voltage than an edge lasts, by the same time everywhere, and nowhere with it.
std::optional<double> much_too_early_s(std::span<const double> voltage_v, std::span<const double> current_a,
                                       double interval_s, const CycleWindow& window) {
  constexpr double alike_s = 10e-6;
  constexpr double alike_samples = 1.5;
  constexpr double nearly_all = 0.8;
  constexpr double clear_samples = 2.0;
  const std::size_t end = std::min(current_a.size(), window.first + static_cast<std::size_t>(window.samples()));
  double largest = 0.0;
  for (std::size_t k = window.first; k < end; ++k) largest = std::max(largest, std::abs(current_a[k]));
  std::vector<double> early;
  std::size_t edges = 0;
  for (const VoltageRise& rise : voltage_rises(voltage_v, interval_s, window)) {
    if (rise.sample < window.first + static_cast<std::size_t>(window.cycle_samples / 4.0) + 2) continue;
    ++edges;
    if (const auto begins = steepest_jump(current_a, interval_s, window, rise.sample, largest))
      early.push_back((static_cast<double>(rise.sample - 1) - *begins) * interval_s);
  }
  if (early.size() < fewest_edges || static_cast<double>(early.size()) < nearly_all * static_cast<double>(edges))
    return std::nullopt;
  std::sort(early.begin(), early.end());
  const double middle = early[early.size() / 2];
  const double alike = std::max(alike_s, alike_samples * interval_s);
  const auto agree = std::count_if(early.begin(), early.end(), [&](double s) { return std::abs(s - middle) <= alike; });
  if (middle <= std::max(longest_s, clear_samples * interval_s) ||
      static_cast<double>(agree) < nearly_all * static_cast<double>(early.size()))
    return std::nullopt;
  return middle;
}

using Complex = std::complex<double>;

// The third belongs to a filament's own warming and cooling as well.
constexpr std::size_t beyond_third = 5;
constexpr double least_harmonic_share = 0.005;  // of the voltage's fundamental: with smaller harmonics nothing is told

/// Admittance of harmonic h over that of the fundamental, after one cause of the angle `lead` [rad].
Complex admittance(ResistiveSkew::Cause cause, double lead, double h) {
  const Complex j(0.0, 1.0);
  switch (cause) {
    case ResistiveSkew::Cause::delay:
      return std::polar(1.0, (h - 1.0) * lead);
    case ResistiveSkew::Cause::low_cut: {
      const auto passed = [&](double order) { return j * order / (j * order + std::tan(lead)); };
      return passed(h) / passed(1.0);
    }
    case ResistiveSkew::Cause::capacitance:
      return (1.0 + j * h * std::tan(lead)) / (1.0 + j * std::tan(lead));
    case ResistiveSkew::Cause::open:
      break;
  }
  return 1.0;
}

/// Rms of the odd harmonics from `first` to the 13th, over the fundamental.
double odd_share(const std::vector<Complex>& amplitudes, std::size_t first) {
  double squares = 0.0;
  for (std::size_t h = first; h <= 13; h += 2) squares += std::norm(amplitudes[h] / amplitudes[1]);
  return std::sqrt(squares);
}

/// Whichever cause the harmonics agree with clearly better than with the others.
ResistiveSkew::Cause cause_of(const std::vector<Complex>& voltage, const std::vector<Complex>& current, double lead) {
  using Cause = ResistiveSkew::Cause;
  const double largest = std::max(odd_share(voltage, beyond_third), odd_share(current, beyond_third));
  std::vector<std::pair<double, Cause>> misfits;
  for (const Cause cause : {Cause::delay, Cause::low_cut, Cause::capacitance}) {
    double misfit = 0.0;
    for (std::size_t h = beyond_third; h <= 13; h += 2) {
      const Complex expected = admittance(cause, lead, static_cast<double>(h)) * voltage[h] / voltage[1];
      misfit += std::norm(current[h] / current[1] - expected);
    }
    misfits.emplace_back(misfit, cause);
  }
  std::sort(misfits.begin(), misfits.end());
  const auto [least, best] = misfits[0];
  constexpr double clearly = 0.5;     // of the second best
  constexpr double described = 0.15;  // of the harmonics' squares
  return least < clearly * misfits[1].first && least < described * largest * largest ? best : Cause::open;
}

}  // namespace

std::optional<double> early_current_s(std::span<const double> voltage_v, std::span<const double> current_a,
                                      double interval_s, const CycleWindow& window) {
  if (const auto early = much_too_early_s(voltage_v, current_a, interval_s, window)) return early;
  return clear_median(edge_times(voltage_v, current_a, interval_s, window), interval_s,
                      [&](const EdgeTimes& edge) { return (edge.voltage_10 - edge.current_10) * interval_s; });
}

std::optional<double> late_current_s(std::span<const double> voltage_v, std::span<const double> current_a,
                                     double interval_s, const CycleWindow& window) {
  const auto edges = edge_times(voltage_v, current_a, interval_s, window);
  const auto late = clear_median(edges, interval_s, [&](const EdgeTimes& edge) {
    const double begins = edge.current_10 - 0.25 * (edge.current_50 - edge.current_10);
    return (begins - edge.voltage_10) * interval_s;
  });
  if (!late) return std::nullopt;
  // A rise that takes long does not show its beginning.
  constexpr double of_the_rise = 1.0;
  const auto rise = clear_median(
      edges, interval_s, [&](const EdgeTimes& edge) { return (edge.current_90 - edge.current_10) * interval_s; });
  constexpr double clear_samples = 1.5;
  if (*late < clear_samples * interval_s || (rise && *late < of_the_rise * *rise)) return std::nullopt;
  return late;
}

std::optional<double> cut_resistance_late_s(std::span<const double> voltage_v, std::span<const double> current_a,
                                            double interval_s, const CycleWindow& window) {
  constexpr double least_late_s = 40e-6;
  constexpr double least_samples = 1.5;
  constexpr double alike = 0.02;    // of the squares, what may differ from the voltage's shape
  constexpr double clearly = 0.15;  // of what differs unmoved: a rise with a time constant keeps 0.39
  const auto points = static_cast<std::size_t>(std::clamp(std::round(0.5 * window.cycle_samples), 60.0, 2000.0));
  const std::vector<double> volts = folded_half_cycle(voltage_v, window, points);
  const std::vector<double> amperes = folded_half_cycle(current_a, window, points);
  const auto squares = [](const std::vector<double>& x) {
    return std::inner_product(x.begin(), x.end(), x.begin(), 0.0);
  };
  const double all = squares(volts) * squares(amperes);
  if (!(all > 0.0)) return std::nullopt;
  // Share of the squares that differs with the current `lag` points late; what leaves the half cycle comes back turned.
  const auto differs = [&](std::ptrdiff_t lag) {
    const auto n = static_cast<std::ptrdiff_t>(points);
    double sum = 0.0;
    for (std::ptrdiff_t j = 0; j < n; ++j) {
      const std::ptrdiff_t at = j - lag;
      const double v = at < 0    ? -volts[static_cast<std::size_t>(at + n)]
                       : at >= n ? -volts[static_cast<std::size_t>(at - n)]
                                 : volts[static_cast<std::size_t>(at)];
      sum += v * amperes[static_cast<std::size_t>(j)];
    }
    return sum > 0.0 ? 1.0 - sum * sum / all : 1.0;
  };
  const auto quarter = static_cast<std::ptrdiff_t>(points / 2);
  std::ptrdiff_t best = 0;
  double least = differs(0);
  const double unmoved = least;
  for (std::ptrdiff_t lag = -quarter; lag <= quarter; ++lag) {
    const double here = differs(lag);
    if (here < least) {
      least = here;
      best = lag;
    }
  }
  const double late_s =
      static_cast<double>(best) * 0.5 * window.cycle_samples / static_cast<double>(points) * interval_s;
  if (least > alike || least > clearly * unmoved ||
      std::abs(late_s) < std::max(least_late_s, least_samples * interval_s))
    return std::nullopt;
  return late_s;
}

std::optional<ResistiveSkew> resistive_skew(std::span<const double> voltage_v, std::span<const double> current_a,
                                            double frequency_hz, const CycleWindow& window) {
  constexpr double least_deg = 1.0;
  constexpr double most_deg = 20.0;
  constexpr double largest_third = 0.08;
  constexpr double alike = 0.015;  // higher harmonics of the current beyond the voltage's
  const auto voltage = harmonic_amplitudes(voltage_v, window);
  const auto current = harmonic_amplitudes(current_a, window);
  if (!(std::abs(voltage[1]) > 0.0) || !(std::abs(current[1]) > 0.0)) return std::nullopt;
  if (std::abs(current[3]) > largest_third * std::abs(current[1])) return std::nullopt;
  if (odd_share(current, beyond_third) > odd_share(voltage, beyond_third) + alike) return std::nullopt;
  const double lead = std::arg(current[1] * std::conj(voltage[1]));
  const double lead_deg = lead * 180.0 / std::numbers::pi;
  if (std::abs(lead_deg) < least_deg || std::abs(lead_deg) > most_deg) return std::nullopt;
  if (odd_share(voltage, beyond_third) < least_harmonic_share) return std::nullopt;
  return ResistiveSkew{lead_deg, lead / (2.0 * std::numbers::pi * frequency_hz), cause_of(voltage, current, lead)};
}

}  // namespace lampload
