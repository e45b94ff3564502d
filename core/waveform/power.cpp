#include "core/waveform/power.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "core/waveform/harmonics.h"

namespace lampload {

PowerTerms power_terms(std::span<const double> voltage_v, std::span<const double> current_a, double current_offset_a,
                       const CycleWindow& window, bool alternating) {
  const std::size_t total = voltage_v.size();
  const auto amperes = [&](std::size_t k) { return current_a[k] - current_offset_a; };
  PowerTerms terms;
  terms.voltage_rms_v = std::sqrt(mean_over(window, total, [&](std::size_t k) { return voltage_v[k] * voltage_v[k]; }));
  terms.current_rms_a = std::sqrt(mean_over(window, total, [&](std::size_t k) { return amperes(k) * amperes(k); }));
  terms.active_power_w = mean_over(window, total, [&](std::size_t k) { return voltage_v[k] * amperes(k); });
  terms.apparent_power_va = terms.voltage_rms_v * terms.current_rms_a;
  const auto end = std::min(total, window.first + static_cast<std::size_t>(std::ceil(window.samples())));
  for (std::size_t k = window.first; k < end; ++k)
    terms.current_peak_a = std::max(terms.current_peak_a, std::abs(amperes(k)));

  if (terms.apparent_power_va > 0.0) terms.power_factor = terms.active_power_w / terms.apparent_power_va;
  if (terms.current_rms_a > 0.0) terms.current_crest_factor = terms.current_peak_a / terms.current_rms_a;
  if (!alternating) return terms;

  const auto current = harmonic_amplitudes(current_a, window);
  const auto voltage = harmonic_amplitudes(voltage_v, window, 1);
  const double product = std::abs(current[1]) * std::abs(voltage[1]);
  if (product > 0.0) {
    const std::complex<double> ratio = current[1] * std::conj(voltage[1]);
    terms.displacement_factor = ratio.real() / product;
    terms.displacement_deg = std::arg(ratio) * 180.0 / std::numbers::pi;
    terms.current_thd_percent = 100.0 * total_harmonic_distortion(current);
  }
  return terms;
}

}  // namespace lampload
