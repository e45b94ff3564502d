#include "core/circuit/line_cycle.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <span>
#include <vector>

#include "core/waveform/harmonics.h"

namespace lampload {
namespace {

constexpr std::size_t points = 1536;  // of a cycle: divides by 2 and 3, and 38 to a period of order 40

/// The current at equal steps over one cycle, from the moment the recording starts; its first sample is one step later,
/// and comes after its last one.
std::vector<double> evenly(const Waveform& cycle, double frequency_hz) {
  std::vector<double> values(points);
  const double step_s = 1.0 / (frequency_hz * static_cast<double>(points));
  double before_s = cycle.time_s.back() - 1.0 / frequency_hz;
  double before_a = cycle.current_a.back();
  const double first_s = before_s;
  std::size_t next = 0;
  for (std::size_t k = 0; k < points; ++k) {
    const double time_s = first_s + step_s * static_cast<double>(k);
    while (next + 1 < cycle.time_s.size() && cycle.time_s[next] < time_s) {
      before_s = cycle.time_s[next];
      before_a = cycle.current_a[next];
      ++next;
    }
    const double span_s = cycle.time_s[next] - before_s;
    const double share = span_s > 0.0 ? std::clamp((time_s - before_s) / span_s, 0.0, 1.0) : 1.0;
    values[k] = std::lerp(before_a, cycle.current_a[next], share);
  }
  return values;
}

double rms(const std::vector<double>& values) {
  double square = 0.0;
  for (const double x : values) square += x * x;
  return std::sqrt(square / static_cast<double>(values.size()));
}

}  // namespace

LineCycle line_cycle(const Waveform& last_cycle, const SteadyFigures& figures, double supply_v, double frequency_hz) {
  LineCycle result;
  if (last_cycle.time_s.size() < 2) return result;
  const std::vector<double> current_a = evenly(last_cycle, frequency_hz);
  result.rms_a = rms(current_a);
  std::vector<double> neutral_a(points);
  for (std::size_t k = 0; k < points; ++k) {
    neutral_a[k] = current_a[k] + current_a[(k + points / 3) % points] + current_a[(k + 2 * points / 3) % points];
  }
  result.neutral_rms_a = rms(neutral_a);

  HarmonicCurrents& harmonics = result.harmonics;
  const auto amplitudes = harmonic_amplitudes(
      current_a, {.first = 0, .cycle_samples = static_cast<double>(points), .cycles = 1}, highest_limited_order);
  for (std::size_t n = 1; n < harmonics.rms_a.size(); ++n) {
    harmonics.rms_a[n] = std::abs(amplitudes[n]) / std::numbers::sqrt2;
  }
  harmonics.power_w = figures.lamp_power_w;
  if (result.rms_a > 0.0) harmonics.power_factor = std::min(1.0, figures.lamp_power_w / (supply_v * result.rms_a));

  set_waveform_angles(std::span(current_a).first(points / 2), harmonics);
  return result;
}

}  // namespace lampload
