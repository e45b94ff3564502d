#include "core/waveform/channel_delay.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <utility>
#include <vector>

#include "core/waveform/edge_times.h"
#include "core/waveform/harmonics.h"

namespace lampload {
namespace {

constexpr double least_s = 2e-6;     // and
constexpr double of_a_sample = 0.6;  // less is not clear
constexpr double longest_s = 60e-6;  // beyond, it is another edge
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
