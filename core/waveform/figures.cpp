#include "core/waveform/figures.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>
#include <vector>

#include "core/capture/between_samples.h"
#include "core/capture/polarity.h"
#include "core/capture/readers.h"
#include "core/error.h"
#include "core/waveform/channel_delay.h"
#include "core/waveform/cut.h"
#include "core/waveform/cycles.h"
#include "core/waveform/direct.h"
#include "core/waveform/harmonics.h"
#include "core/waveform/power.h"
#include "core/waveform/quality.h"
#include "core/waveform/steady.h"
#include "core/waveform/turn_on.h"

namespace lampload {
namespace {

[[noreturn]] void refuse(const Capture& capture, std::string message, std::string remedy) {
  throw Error(ErrorCode::input_refused, std::move(message), Place{.file = capture.file}, std::move(remedy));
}

double wrapped(double degrees) {
  const double rest = std::fmod(degrees, 360.0);
  return rest < 0.0 ? rest + 360.0 : rest;
}

double mean_of(std::span<const double> x) {
  double sum = 0.0;
  for (const double value : x) sum += value;
  return sum / static_cast<double>(x.size());
}

// Sets everything that is a figure of power.
void take(const PowerTerms& terms, Figures& figures) {
  figures.voltage_rms_v = terms.voltage_rms_v;
  figures.current_rms_a = terms.current_rms_a;
  figures.current_peak_a = terms.current_peak_a;
  figures.active_power_w = terms.active_power_w;
  figures.apparent_power_va = terms.apparent_power_va;
  figures.power_factor = terms.power_factor;
  figures.displacement_factor = terms.displacement_factor;
  figures.current_crest_factor = terms.current_crest_factor;
  figures.current_thd_percent = terms.current_thd_percent;
}

std::size_t window_end(const CycleWindow& window, std::size_t total) {
  return std::min(total, window.first + static_cast<std::size_t>(std::lround(window.samples())));
}

// Before the lamp was connected the current channel shows its offset alone; else the mean over whole cycles is taken.
double current_offset(const Capture& capture, const Figures& figures, const CycleWindow& window) {
  if (figures.turn_on && static_cast<double>(figures.turn_on->sample) > 0.25 * window.cycle_samples) {
    const std::size_t margin = 1 + figures.turn_on->sample / 20;
    return mean_of(std::span(capture.current_a).first(figures.turn_on->sample - margin));
  }
  return mean_over(window, capture.samples(), [&](std::size_t k) { return capture.current_a[k]; });
}

// Of the nominal voltage. Where the capture never comes near it, or goes far beyond, a probe's factor was left out and
// it says nothing of the sine.
std::optional<double> expected_peak_v(const Capture& capture, const Nominal& nominal, const Figures& figures) {
  constexpr double kLeast = 0.2;  // no dimmer conducts for 11 degrees only
  constexpr double kMost = 1.6;   // with ringing
  if (!nominal.voltage_v) return std::nullopt;
  const double peak = *nominal.voltage_v * std::numbers::sqrt2;
  double crest = 0.0;
  for (std::size_t k = figures.steady_first; k < figures.steady_last; ++k)
    crest = std::max(crest, std::abs(capture.voltage_v[k]));
  return crest > kLeast * peak && crest < kMost * peak ? std::optional(peak) : std::nullopt;
}

Figures measure_alternating(const Capture& capture, const Nominal& nominal, Figures figures) {
  const std::span<const double> voltage(capture.voltage_v);
  const bool late_voltage = figures.turn_on && !figures.turn_on->supply_side_voltage;
  const auto heard = late_voltage ? voltage.subspan(figures.turn_on->sample) : voltage;
  std::optional<double> expected;
  if (nominal.frequency_hz && *nominal.frequency_hz > 0.0) expected = nominal.frequency_hz;
  const auto frequency = mains_frequency(heard, capture.sample_interval_s, expected);
  if (!frequency) {
    refuse(capture,
           fmt::format("no whole mains cycle was found in the voltage (looked for {}, {:.3g} s of samples{})",
                       expected ? fmt::format("{:g} Hz", *expected) : std::string("45 to 65 Hz"),
                       static_cast<double>(heard.size()) * capture.sample_interval_s,
                       late_voltage ? " after the turn-on" : ""),
           "Capture two whole cycles or more, and check the voltage and time columns.");
  }
  figures.mains_frequency_hz = frequency;
  const double cycle_samples = capture.sample_rate_hz() / *frequency;
  const CycleWindow window = steady_cycles(capture, figures.turn_on, cycle_samples);
  if (window.cycles == 0)
    refuse(capture, "less than one whole mains cycle remains after the turn-on", "Capture a longer record.");

  // 400 Hz repeats after 20 ms as well, without a fundamental of 50 Hz.
  const double fundamental = std::norm(harmonic_amplitudes(capture.voltage_v, window, 1)[1]) / 2.0;
  const double all = mean_over(window, capture.samples(), [&](std::size_t k) { return voltage[k] * voltage[k]; });
  if (!(fundamental > 0.05 * all)) {
    refuse(capture,
           fmt::format("the voltage repeats at {:.4g} Hz but holds nearly nothing of that frequency", *frequency),
           "Check the voltage and time columns; supplies of 45 to 65 Hz and DC are understood.");
  }

  figures.current_offset_a = current_offset(capture, figures, window);
  const PowerTerms terms = power_terms(capture.voltage_v, capture.current_a, figures.current_offset_a, window, true);
  take(terms, figures);
  figures.steady_first = window.first;
  figures.steady_last = window_end(window, capture.samples());

  const std::optional<double> peak_hint = expected_peak_v(capture, nominal, figures);
  CutFinding finding = find_cut(capture.voltage_v, capture.current_a, window, peak_hint);
  // A nominal voltage that does not belong to this capture must not hide its sine.
  if (peak_hint && (!finding.sine || finding.sine->following_share < 0.3)) {
    finding = find_cut(capture.voltage_v, capture.current_a, window, std::nullopt);
  }
  figures.cut = finding.cut;
  if (finding.sine) {
    figures.steady_phase_deg = finding.sine->phase_deg;
  } else {
    const auto fundamental = harmonic_amplitudes(capture.voltage_v, window, 1)[1];
    figures.steady_phase_deg = wrapped(std::arg(fundamental) * 180.0 / std::numbers::pi + 90.0);
  }
  if (figures.turn_on) {
    const double samples_before = static_cast<double>(window.first) - static_cast<double>(figures.turn_on->sample);
    figures.turn_on->phase_deg = wrapped(figures.steady_phase_deg - 360.0 * samples_before / cycle_samples);
    figures.inrush = measure_inrush(capture.current_a, figures.current_offset_a, capture.sample_interval_s,
                                    *figures.turn_on, 0.5 / *frequency);
  }
  std::optional<double> early_s;
  if (figures.cut.edge == Edge::leading && !figures.cut.supply_side_voltage)
    early_s = early_current_s(capture.voltage_v, capture.current_a, capture.sample_interval_s, window);
  if (early_s) {
    // Only what depends on both channels together; moving blurs a peak.
    const double samples = *early_s / capture.sample_interval_s;
    std::vector<double> late(capture.samples());
    for (std::size_t k = 0; k < late.size(); ++k)
      late[k] = between_samples(capture.current_a, static_cast<double>(k) - samples);
    const PowerTerms together = power_terms(capture.voltage_v, late, figures.current_offset_a, window, true);
    figures.active_power_w = together.active_power_w;
    if (figures.power_factor) figures.power_factor = together.active_power_w / figures.apparent_power_va;
    figures.displacement_factor = together.displacement_factor;
  }
  const auto notes = quality_notes({capture, nominal, figures, terms, window, true, finding.sine, early_s});
  figures.quality.insert(figures.quality.end(), notes.begin(), notes.end());
  return figures;
}

Figures measure_direct(const Capture& capture, const Nominal& nominal, Figures figures) {
  const std::size_t live = figures.turn_on ? figures.turn_on->sample : 0;
  if (capture.samples() - live < fewest_samples)
    refuse(capture, "too little remains after the turn-on", "Capture a longer record.");
  const std::optional<DirectFinding> found = find_direct(capture, figures.turn_on);
  if (!found) {
    refuse(capture,
           "the voltage is neither mains of 45 to 65 Hz over a whole cycle nor steady DC nor DC switched at a regular "
           "rate",
           "Capture two whole mains cycles or more, or for DC three periods or more with at least 20 samples each; "
           "check the voltage and time columns.");
  }
  figures.direct = found->direct;
  figures.cut.supply_side_voltage = found->supply_side_voltage;
  figures.current_offset_a = found->current_offset_a;
  const PowerTerms terms =
      power_terms(capture.voltage_v, capture.current_a, figures.current_offset_a, found->window, false);
  take(terms, figures);
  figures.steady_first = found->window.first;
  figures.steady_last = window_end(found->window, capture.samples());
  if (figures.turn_on) {
    // For want of a mains cycle the half cycle of 50 Hz; where the supply comes up slowly, until it has.
    constexpr double kFirstSurge = 10e-3;  // [s]
    const double rising_s = capture.sample_interval_s *
                            (static_cast<double>(found->window.first) - static_cast<double>(figures.turn_on->sample));
    figures.inrush = measure_inrush(capture.current_a, figures.current_offset_a, capture.sample_interval_s,
                                    *figures.turn_on, std::max(kFirstSurge, rising_s));
  }
  const auto notes = quality_notes(
      {capture, nominal, figures, terms, found->window, false, std::nullopt, std::nullopt, found->current_noise_a});
  figures.quality.insert(figures.quality.end(), notes.begin(), notes.end());
  return figures;
}

}  // namespace

Figures measure(const Capture& capture, const Nominal& nominal) {
  if (capture.voltage_v.size() != capture.current_a.size() || capture.samples() < fewest_samples ||
      !(capture.sample_interval_s > 0.0)) {
    refuse(
        capture,
        fmt::format("a capture needs {} samples or more of voltage and current, and a sample interval", fewest_samples),
        "Read it with read_capture().");
  }
  if (std::all_of(capture.voltage_v.begin(), capture.voltage_v.end(), [](double v) { return v == 0.0; }))
    refuse(capture, "the voltage is zero throughout", "Check the voltage column and the probe.");
  Figures figures;
  figures.samples = capture.samples();
  figures.sample_rate_hz = capture.sample_rate_hz();
  figures.duration_s = capture.duration_s();
  figures.quality = capture.notes;
  figures.turn_on = find_turn_on(capture.voltage_v, capture.current_a, capture.sample_interval_s);
  const bool said_direct = nominal.frequency_hz && *nominal.frequency_hz == 0.0;
  const bool said_alternating = nominal.frequency_hz && *nominal.frequency_hz > 0.0;
  const bool direct = said_direct || (!said_alternating && one_sign(capture.voltage_v).has_value());
  return direct ? measure_direct(capture, nominal, std::move(figures))
                : measure_alternating(capture, nominal, std::move(figures));
}

bool less_open(const Figures& a, const Figures& b) {
  constexpr double turn_on_deg = 5.0;
  const auto open_deg = [](const Figures& one) {
    return one.cut.conduction_angle_deg - (one.turn_on ? turn_on_deg : 0.0);
  };
  return open_deg(a) < open_deg(b);
}

}  // namespace lampload
