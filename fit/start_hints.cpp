#include "fit/start_hints.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

namespace lampload {
namespace {

/// Mean of a channel over the half cycle, in steps of one degree, the negative half cycles turned.
std::vector<double> folded(const Capture& capture, const Figures& figures, const std::vector<double>& channel,
                           double offset) {
  std::vector<double> sum(180, 0.0);
  std::vector<double> count(180, 0.0);
  const double frequency = *figures.mains_frequency_hz;
  for (std::size_t k = figures.steady_first; k < std::min(figures.steady_last, capture.samples()); ++k) {
    const double time = static_cast<double>(k - figures.steady_first) * capture.sample_interval_s;
    const double degrees = figures.steady_phase_deg + 360.0 * frequency * time;
    const double half = std::floor(degrees / 180.0);
    const auto bin = std::min<std::size_t>(179, static_cast<std::size_t>(degrees - 180.0 * half));
    const double sign = std::fmod(std::abs(half), 2.0) < 0.5 ? 1.0 : -1.0;
    sum[bin] += sign * (channel[k] - offset);
    count[bin] += 1.0;
  }
  for (std::size_t bin = 0; bin < sum.size(); ++bin) {
    if (count[bin] > 0.0) {
      sum[bin] /= count[bin];
    } else if (bin > 0) {
      sum[bin] = sum[bin - 1];
    }
  }
  return sum;
}

/// Of the fundamentals of a half cycle's voltage and current; positive: the current lags.
double reactive_power_var(const std::vector<double>& voltage_v, const std::vector<double>& current_a) {
  std::complex<double> voltage;
  std::complex<double> current;
  for (std::size_t bin = 0; bin < voltage_v.size(); ++bin) {
    const auto turn =
        std::polar(std::numbers::sqrt2 / 180.0, -(static_cast<double>(bin) + 0.5) * std::numbers::pi / 180.0);
    voltage += turn * voltage_v[bin];
    current += turn * current_a[bin];
  }
  return (voltage * std::conj(current)).imag();
}

void half_cycle(const Capture& capture, const Figures& figures, StartHints& hints) {
  hints.cut_deg = 180.0 - figures.cut.conduction_angle_deg;
  hints.half_cycle_v = folded(capture, figures, capture.voltage_v, 0.0);
  hints.half_cycle_a = folded(capture, figures, capture.current_a, figures.current_offset_a);
  hints.reactive_power_var = reactive_power_var(hints.half_cycle_v, hints.half_cycle_a);
  const std::vector<double>& current = hints.half_cycle_a;
  const auto top = std::max_element(current.begin(), current.end());
  const double limit = 0.05 * *top;
  auto first = top;
  while (first != current.begin() && *(first - 1) > limit) --first;
  auto last = top;
  while (last + 1 != current.end() && *(last + 1) > limit) ++last;
  hints.conduction_start_deg = static_cast<double>(first - current.begin());
  hints.conduction_stop_deg = static_cast<double>(last - current.begin() + 1);
}

void turn_on(const Capture& capture, const Figures& figures, StartHints& hints) {
  const std::size_t begin = figures.turn_on->sample;
  const double frequency = figures.mains_frequency_hz.value_or(50.0);
  const auto half = static_cast<std::size_t>(0.5 / frequency / capture.sample_interval_s);
  std::vector<double> peaks;
  for (std::size_t k = begin; half > 0 && k + half <= capture.samples(); k += half) {
    double peak = 0.0;
    for (std::size_t s = k; s < k + half; ++s)
      peak = std::max(peak, std::abs(capture.current_a[s] - figures.current_offset_a));
    peaks.push_back(peak);
  }
  if (peaks.empty()) return;
  std::size_t at = begin;
  for (std::size_t s = begin; s < begin + half; ++s) {
    const double now = std::abs(capture.current_a[s] - figures.current_offset_a);
    if (now > hints.turn_on_peak_a) {
      hints.turn_on_peak_a = now;
      at = s;
    }
  }
  hints.turn_on_voltage_v = std::abs(capture.voltage_v[at]);
  hints.turn_on_i2t_a2s = figures.inrush ? figures.inrush->i2t_a2s : 0.0;
  const double final = peaks.back();
  std::size_t settled = peaks.size();
  while (settled > 0 && std::abs(peaks[settled - 1] - final) <= 0.2 * final) --settled;
  hints.settle_time_s = static_cast<double>(settled) * 0.5 / frequency;
}

void at_jump(const Capture& capture, const Figures& figures, StartHints& hints) {
  const double frequency = figures.mains_frequency_hz.value_or(50.0);
  const double fire_deg = 180.0 - figures.cut.conduction_angle_deg;
  double peak_voltage = 0.0;
  for (const double v : capture.voltage_v) peak_voltage = std::max(peak_voltage, std::abs(v));
  hints.voltage_jump_v = peak_voltage * std::sin(fire_deg * std::numbers::pi / 180.0);
  const auto millisecond = static_cast<std::size_t>(1e-3 / capture.sample_interval_s);
  std::vector<double> peaks;
  for (double angle = fire_deg - figures.steady_phase_deg;; angle += 180.0) {
    if (angle < 0.0) continue;
    const auto k =
        figures.steady_first + static_cast<std::size_t>(angle / 360.0 / frequency / capture.sample_interval_s);
    if (k + millisecond >= capture.samples()) break;
    double peak = 0.0;
    for (std::size_t s = k; s < k + millisecond; ++s) {
      peak = std::max(peak, std::abs(capture.current_a[s] - figures.current_offset_a));
    }
    peaks.push_back(peak);
  }
  if (peaks.empty()) return;
  std::nth_element(peaks.begin(), peaks.begin() + static_cast<std::ptrdiff_t>(peaks.size() / 2), peaks.end());
  hints.current_at_jump_a = peaks[peaks.size() / 2];
}

/// Mean current over the voltage, from all captures: the lamp's curve, as far as a DC supply swept it.
void dc_curve(std::span<const Capture> captures, std::span<const Figures> figures, StartHints& hints) {
  constexpr std::size_t bins = 60;
  std::vector<double> volts(bins, 0.0), amperes(bins, 0.0), count(bins, 0.0);
  for (std::size_t c = 0; c < captures.size(); ++c) {
    for (std::size_t k = 0; k < captures[c].samples(); ++k) {
      const double share = captures[c].voltage_v[k] / hints.voltage_peak_v;
      if (!(share >= 0.0)) continue;
      const auto bin = std::min(bins - 1, static_cast<std::size_t>(share * static_cast<double>(bins)));
      volts[bin] += captures[c].voltage_v[k];
      amperes[bin] += captures[c].current_a[k] - figures[c].current_offset_a;
      count[bin] += 1.0;
    }
  }
  for (std::size_t bin = 0; bin < bins; ++bin) {
    if (count[bin] < 1.0) continue;
    hints.dc_curve_v.push_back(volts[bin] / count[bin]);
    hints.dc_curve_a.push_back(amperes[bin] / count[bin]);
  }
}

}  // namespace

std::size_t least_cut(std::span<const Figures> figures) {
  return static_cast<std::size_t>(std::max_element(figures.begin(), figures.end(), less_open) - figures.begin());
}

StartHints start_hints(std::span<const Capture> captures, std::span<const Figures> figures, const Nominal& nominal) {
  StartHints hints;
  const std::size_t open = least_cut(figures);
  const Figures& running = figures[open];
  hints.frequency_hz = running.mains_frequency_hz.value_or(0.0);
  hints.voltage_rms_v = running.voltage_rms_v;
  for (std::size_t k = running.steady_first; k < std::min(running.steady_last, captures[open].samples()); ++k) {
    hints.voltage_peak_v = std::max(hints.voltage_peak_v, std::abs(captures[open].voltage_v[k]));
  }
  hints.current_rms_a = running.current_rms_a;
  hints.current_peak_a = running.current_peak_a;
  hints.active_power_w = running.active_power_w;
  hints.cold_resistance_ohm = nominal.cold_resistance_ohm.value_or(0.0);
  hints.rated_power_w = nominal.rated_power_w.value_or(0.0);
  if (running.mains_frequency_hz) half_cycle(captures[open], running, hints);
  if (running.direct) {
    hints.on_voltage_v = running.direct->on_voltage_v;
    hints.on_current_a = running.direct->on_current_a;
    dc_curve(captures, figures, hints);
  }
  for (std::size_t c = 0; c < captures.size(); ++c) {
    if (figures[c].turn_on) turn_on(captures[c], figures[c], hints);
    if (figures[c].cut.edge == Edge::leading && figures[c].mains_frequency_hz) at_jump(captures[c], figures[c], hints);
  }
  return hints;
}

}  // namespace lampload
