#include "core/waveform/quality.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <string>
#include <utility>

#include "core/waveform/steady.h"

namespace lampload {
namespace {

using Notes = std::vector<QualityNote>;

void add(Notes& notes, const char* code, Severity severity, std::string message) {
  notes.push_back({code, severity, std::move(message)});
}

void clipping(const QualityInput& in, Notes& notes) {
  std::size_t voltage = 0;
  std::size_t current = 0;
  for (const std::uint8_t mark : in.capture.clipped) {
    voltage += mark & 1U;
    current += (mark >> 1U) & 1U;
  }
  if (voltage > 0) {
    add(notes, "clipping_voltage", Severity::warning,
        fmt::format("{} voltage samples sit at the end of the range. Choose a larger voltage range and capture again.",
                    voltage));
  }
  if (current > 0) {
    add(notes, "clipping_current", Severity::warning,
        fmt::format("{} current samples sit at the end of the range: peak, rms and power read too low. Choose a larger "
                    "current range and capture again.",
                    current));
  }
}

double bare_amplitude(const QualityInput& in) {
  if (in.figures.direct) return in.figures.direct->on_voltage_v;
  return in.sine ? in.sine->amplitude_v / std::numbers::sqrt2 : in.figures.voltage_rms_v;
}

void voltage_level(const QualityInput& in, Notes& notes) {
  const double volts = bare_amplitude(in);
  const auto plausible = [&](double rms) {
    if (in.nominal.voltage_v) return std::abs(rms / *in.nominal.voltage_v - 1.0) <= 0.2;
    return rms >= 85.0 && rms <= 290.0;
  };
  if ((!in.alternating && !in.nominal.voltage_v) || plausible(volts)) return;
  const std::string expected = in.nominal.voltage_v ? fmt::format("the nominal {:.4g} V", *in.nominal.voltage_v)
                                                    : std::string("any mains (100 to 240 V)");
  std::string advice = "Check the probe factor and the column, or give --nominal-voltage.";
  for (const double factor : {10.0, 100.0, 1000.0, 0.1, 0.01, 0.001}) {
    if (!plausible(volts * factor)) continue;
    advice = fmt::format(
        "It looks as if a factor of {:g} were missing: check the probe factor, or give --voltage-scale {:g}.", factor,
        factor);
    break;
  }
  add(notes, "voltage_implausible", Severity::warning,
      fmt::format("The supply seems to be {:.4g} V{}, far from {}. {}", volts, in.alternating ? " rms" : "", expected,
                  advice));
}

void frequency(const QualityInput& in, Notes& notes) {
  if (!in.figures.mains_frequency_hz) return;
  const double found = *in.figures.mains_frequency_hz;
  const double expected = in.nominal.frequency_hz && *in.nominal.frequency_hz > 0.0 ? *in.nominal.frequency_hz
                          : found < 55.0                                            ? 50.0
                                                                                    : 60.0;
  if (std::abs(found / expected - 1.0) <= 0.01) return;
  add(notes, "mains_frequency", Severity::warning,
      fmt::format(
          "The mains frequency reads {:.2f} Hz instead of {:g} Hz. Check the time column, its unit and the sample "
          "interval.",
          found, expected));
}

void cycles(const QualityInput& in, Notes& notes) {
  if (in.alternating && in.window.cycles < 3) {
    // A turn-on is taken for its beginning; that a few cycles follow is enough.
    const bool enough = in.figures.turn_on && in.window.cycles == 2;
    add(notes, "too_few_cycles", enough ? Severity::note : Severity::warning,
        fmt::format("Only {} whole steady {}: nothing shows how steady the lamp is. Capture ten cycles or more.",
                    in.window.cycles, in.window.cycles == 1 ? "cycle was found" : "cycles were found"));
  }
  if (in.figures.direct && in.figures.direct->pulses && in.window.cycles < 3) {
    add(notes, "too_few_cycles", Severity::warning,
        fmt::format("Only {} whole {} of the pulses: nothing shows how steady the lamp is. Capture ten or more.",
                    in.window.cycles, in.window.cycles == 1 ? "period was found" : "periods were found"));
  }
}

// The part of the current that keeps half-wave symmetry is a lamp's; what does not is noise or another's.
bool holds_no_lamp_current(const QualityInput& in) {
  const double step = in.capture.current_step_a;
  // An inrush shows the lamp, however coarse the range makes its running current.
  constexpr double kPlainSteps = 10.0;
  if (in.figures.inrush && in.figures.inrush->peak_a > kPlainSteps * step) return false;
  if (in.power.current_rms_a == 0.0) return true;
  const bool faint = in.power.current_rms_a < 2.5 * step;
  // Of DC only the mean is the lamp's.
  if (in.figures.direct && std::abs(in.figures.direct->on_current_a) < in.current_noise_a) return true;
  if (!in.alternating || in.figures.turn_on) return faint;
  const auto folded = folded_half_cycle(in.capture.current_a, in.window, fold_points(in.window));
  double symmetric = 0.0, peak = 0.0;
  for (const double i : folded) {
    symmetric += i * i;
    peak = std::max(peak, std::abs(i));
  }
  symmetric /= static_cast<double>(folded.size());
  // Short pulses stand out of the noise where their rms does not.
  if (faint && peak < kPlainSteps * step) return true;
  return symmetric < 0.5 * in.power.current_rms_a * in.power.current_rms_a;
}

void current_channel(const QualityInput& in, bool no_lamp, Notes& notes) {
  const double step = in.capture.current_step_a;
  if (no_lamp) {
    add(notes, "no_lamp_current", Severity::error,
        fmt::format(
            "The current shows no lamp: {:.3g} A rms, of the size of its own noise. Check that the lamp was on and "
            "the current probe on its conductor.",
            in.power.current_rms_a));
    return;
  }
  constexpr double kFewSteps = 25.0;
  if (step > 0.0 && (in.power.current_peak_a < kFewSteps * step || in.power.current_rms_a < 0.3 * kFewSteps * step)) {
    add(notes, "current_resolution", Severity::warning,
        fmt::format("The current peak spans only {:.0f} steps of the digitiser ({:.3g} A each). Choose a smaller "
                    "range, or wind "
                    "the conductor through the clamp several times.",
                    in.power.current_peak_a / step, step));
  }
  const double offset = std::abs(in.figures.current_offset_a);
  if (offset > 0.05 * in.power.current_rms_a && offset > 2.0 * step) {
    add(notes, "current_offset", Severity::note,
        fmt::format(
            "The current channel is off by {:.3g} A; that was taken out of the figures. Zero the clamp before the next "
            "capture.",
            in.figures.current_offset_a));
  }
}

void load_kind(const QualityInput& in, Notes& notes) {
  if (!in.alternating || !in.power.power_factor) return;
  constexpr double kReactive = 0.2;
  if (std::abs(*in.power.power_factor) > kReactive || std::abs(in.power.displacement_deg) < 70.0) return;
  const bool leads = in.power.displacement_deg > 0.0;
  add(notes, "not_a_lamp", Severity::warning,
      fmt::format(
          "This is hardly a lamp: the current {} the voltage by {:.0f} degrees and the power factor is {:.2f}, as of a "
          "plain {}. Check what the current probe was on.",
          leads ? "leads" : "lags", std::abs(in.power.displacement_deg), *in.power.power_factor,
          leads ? "capacitor" : "inductor"));
}

void sampling(const QualityInput& in, Notes& notes) {
  const double interval = in.capture.sample_interval_s;
  if (in.figures.inrush && in.figures.inrush->width_s < 5.0 * interval) {
    add(notes, "slow_sampling", Severity::warning,
        fmt::format("The inrush peak is only {:.1f} samples wide; its true height may be larger. Sample at {:.2g} Hz "
                    "or faster.",
                    in.figures.inrush->width_s / interval, 20.0 / std::max(in.figures.inrush->width_s, interval)));
  } else if (in.alternating && in.window.cycle_samples < 200.0) {
    add(notes, "slow_sampling", Severity::warning,
        fmt::format("Only {:.0f} samples a mains cycle: narrow current pulses and cut edges are blurred. Sample at 20 "
                    "kHz or faster.",
                    in.window.cycle_samples));
  } else if (in.figures.direct && in.figures.direct->pulses && in.window.cycle_samples < 50.0) {
    add(notes, "slow_sampling", Severity::warning,
        fmt::format("Only {:.0f} samples a period of the pulses: their edges are blurred. Sample at {:.2g} Hz or "
                    "faster.",
                    in.window.cycle_samples, 200.0 * in.figures.direct->pulses->frequency_hz));
  }
}

void steadiness(const QualityInput& in, Notes& notes) {
  if (!in.alternating || in.figures.turn_on) return;
  const CycleWindow all = whole_cycles(0, in.capture.samples(), in.window.cycle_samples);
  if (all.cycles < 2) return;
  const std::vector<double> rms = cycle_currents(in.capture, all);
  const auto [low, high] = std::minmax_element(rms.begin(), rms.end());
  if (*high <= 1.1 * *low) return;
  add(notes, "load_changes", Severity::warning,
      fmt::format(
          "The current changes from cycle to cycle, between {:.3g} and {:.3g} A rms; the figures are those of {} of {} "
          "cycles. Export only the part with the lamp in its steady state.",
          *low, *high, in.window.cycles, all.cycles));
}

}  // namespace

std::vector<QualityNote> quality_notes(const QualityInput& input) {
  Notes notes;
  clipping(input, notes);
  cycles(input, notes);
  const bool no_lamp = holds_no_lamp_current(input);
  current_channel(input, no_lamp, notes);
  if (!no_lamp) {
    load_kind(input, notes);
    steadiness(input, notes);
  }
  voltage_level(input, notes);
  frequency(input, notes);
  sampling(input, notes);
  if (input.alternating && (!input.sine || input.sine->following_share < 0.3)) {
    add(notes, "voltage_not_sine", Severity::warning,
        "Hardly any of the voltage lies on a mains sine, so the cut could not be judged. Give --nominal-voltage, or "
        "check the "
        "supply and the voltage probe.");
  }
  if (input.figures.cut.supply_side_voltage && input.figures.direct) {
    add(notes, "supply_side_voltage", Severity::note,
        "The current is switched while the voltage stays: the voltage was measured on the supply side of the dimmer, "
        "not on the lamp.");
  } else if (input.figures.cut.supply_side_voltage) {
    add(notes, "supply_side_voltage", Severity::note,
        fmt::format(
            "The current is cut to {:.0f} degrees of each half cycle while the voltage stays a sine: the voltage was "
            "measured on the supply side of the dimmer, not on the lamp.",
            input.figures.cut.conduction_angle_deg));
  }
  if (input.early_current_s) {
    add(notes, "channel_delay", Severity::warning,
        fmt::format(
            "The current rises {0:.1f} us before the voltage edges that drive it, which no lamp does: the channels "
            "are skewed. Power and power factor are taken with the current moved by that. Give --current-delay "
            "{1:.3g} with every capture made with these probes.",
            1e6 * *input.early_current_s, -*input.early_current_s));
  }
  return notes;
}

}  // namespace lampload
