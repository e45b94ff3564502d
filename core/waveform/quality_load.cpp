// What the current is of.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "core/waveform/half_cycles.h"
#include "core/waveform/quality_limits.h"
#include "core/waveform/quality_notes.h"
#include "core/waveform/steady.h"

namespace lampload {

namespace {

/// A folded current too small for its range is still a lamp's where it flows with the voltage, as that of a resistance
/// or in pulses: hum flows against it for a part of the half cycle, noise for half of it. symmetric: its mean square.
bool goes_with_voltage(const QualityInput& in, const std::vector<double>& amperes, double symmetric) {
  constexpr double backwards = 0.02;        // of the power
  constexpr double below_zero = 0.3;        // of a spread, what its one side comes to
  constexpr double clear = 8.0;             // times what chance gives
  constexpr double resistive = 0.9;         // power factor
  constexpr double pulses = 2.2;            // crest factor
  constexpr std::size_t fewest_cycles = 3;  // in fewer, chance repeats itself
  if (in.window.cycles < fewest_cycles || !(symmetric > 0.0)) return false;
  const std::vector<double> volts = folded_half_cycle(in.capture.voltage_v, in.window, amperes.size());
  double onwards = 0.0, back = 0.0, magnitude = 0.0, square = 0.0, peak = 0.0;
  for (std::size_t j = 0; j < amperes.size(); ++j) {
    const double watts = volts[j] * amperes[j];
    (watts > 0.0 ? onwards : back) += std::abs(watts);
    magnitude += std::abs(volts[j]);
    square += volts[j] * volts[j];
    peak = std::max(peak, std::abs(amperes[j]));
  }
  const double apparent = std::sqrt(square * symmetric * static_cast<double>(amperes.size()));
  if (onwards - back < resistive * apparent && peak < pulses * std::sqrt(symmetric)) return false;
  // Each fold point is the mean of as many samples as there are half cycles.
  const double all = in.power.current_rms_a * in.power.current_rms_a;
  const double spread = std::sqrt(std::max(0.0, all - symmetric) / (2.0 * static_cast<double>(in.window.cycles)));
  return onwards - back > clear * spread * std::sqrt(square) &&
         back < backwards * onwards + below_zero * spread * magnitude;
}

}  // namespace

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
  // A lamp that draws from one polarity alone keeps half of its square.
  constexpr double kLeast = 0.4;
  const bool lost_in_noise = symmetric < kLeast * in.power.current_rms_a * in.power.current_rms_a;
  if (!lost_in_noise && !(faint && peak < kPlainSteps * step)) return false;
  return !goes_with_voltage(in, folded, symmetric);
}

void note_no_lamp_current(const QualityInput& in, Notes& notes) {
  notes.push_back({"no_lamp_current",
                   Severity::error,
                   fmt::format("The current shows no lamp: {:.3g} A rms, of the size of its own noise. Check that the "
                               "lamp was on and the current probe on its conductor.",
                               in.power.current_rms_a),
                   {{"current_rms_a", in.power.current_rms_a}, {"step_a", in.capture.current_step_a}}});
}

void note_load_kind(const QualityInput& in, Notes& notes) {
  if (!in.alternating || !in.power.power_factor) return;
  constexpr double kReactive = 0.2;
  const double factor = *in.power.power_factor;
  const double ahead_deg = in.power.displacement_deg;
  if (std::abs(factor) > kReactive || std::abs(ahead_deg) < 70.0) return;
  notes.push_back(
      {"not_a_lamp",
       Severity::warning,
       fmt::format("This is hardly a lamp: the current {} the voltage by {:.0f} degrees and the power factor "
                   "is {:.2f}, as of a plain {}. Check what the current probe was on.",
                   ahead_deg > 0.0 ? "leads" : "lags", std::abs(ahead_deg), factor,
                   ahead_deg > 0.0 ? "capacitor" : "inductor"),
       {{"power_factor", factor}, {"current_leads_deg", ahead_deg}}});
}

// Without a rating only slips of unit are certain.
void note_load_size(const QualityInput& in, Notes& notes) {
  constexpr double most_va = 20e3;  // above any lamp, and any dimmer channel
  constexpr double least_va = 0.02;
  const double power = std::abs(in.power.active_power_w);
  const double apparent = in.power.apparent_power_va;
  const bool whole = in.figures.cut.edge == Edge::none && !(in.figures.direct && in.figures.direct->pulses);
  const auto suggest = [&](double factor, const std::string& seen) {
    notes.push_back({"current_implausible",
                     Severity::warning,
                     fmt::format("{}. It looks as if the current were wrong by a factor of {:g}: check the clamp's "
                                 "factor and unit, the turns through it, or give --current-scale {:g}.",
                                 seen, 1.0 / factor, factor),
                     {{"active_power_w", power}, {"apparent_power_va", apparent}}});
  };
  if (whole && in.nominal.rated_power_w && power > 0.0) {
    const double ratio = power / *in.nominal.rated_power_w;
    for (const double factor : {10.0, 100.0, 1000.0, 0.1, 0.01, 0.001}) {
      constexpr double near = 0.3;  // a label is no measurement
      if (std::abs(ratio * factor - 1.0) > near) continue;
      suggest(factor, fmt::format("The lamp takes {:.3g} W instead of the {:g} W on its label", power,
                                  *in.nominal.rated_power_w));
      return;
    }
  }
  const double taken = std::max(apparent, power);
  if (taken > most_va) suggest(0.001, fmt::format("{:.3g} VA is more than any lamp takes", taken));
  if (in.alternating && apparent < least_va)
    suggest(1000.0, fmt::format("{:.3g} VA is less than any lamp takes", apparent));
}

void note_steadiness(const QualityInput& in, Notes& notes) {
  if (!in.alternating || in.figures.turn_on) return;
  const CycleWindow all = whole_cycles(0, in.capture.samples(), in.window.cycle_samples);
  if (all.cycles < 2) return;
  const std::vector<double> rms = cycle_currents(in.capture, all);
  const auto [low, high] = std::minmax_element(rms.begin(), rms.end());
  if (*high <= 1.1 * *low) return;
  notes.push_back(
      {"load_changes",
       Severity::warning,
       fmt::format("The current changes from cycle to cycle, between {:.3g} and {:.3g} A rms; the figures are those of "
                   "{} of {} cycles. Export only the part with the lamp in its steady state.",
                   *low, *high, in.window.cycles, all.cycles),
       {{"least_rms_a", *low}, {"largest_rms_a", *high}}});
}

namespace {

HalfCycleDifference difference_of(const QualityInput& in) {
  return half_cycle_difference(in.capture.voltage_v, in.capture.current_a, in.figures.current_offset_a, in.window,
                               in.figures.steady_phase_deg, in.figures.cut);
}

/// By how much later the positive half cycles are cut, where that is clear.
std::optional<double> clearly_apart(const QualityInput& in, const HalfCycleDifference& found) {
  constexpr double clear_deg = 2.0;
  const Cut& cut = in.figures.cut;
  const bool by_current = cut.edge != Edge::leading || cut.supply_side_voltage;
  const bool coarse = in.power.current_peak_a < quality_limits::fewest_steps_of_peak * in.capture.current_step_a;
  if (cut.edge == Edge::none || (by_current && coarse)) return std::nullopt;
  return found.edge_deg && std::abs(*found.edge_deg) > clear_deg ? found.edge_deg : std::nullopt;
}

}  // namespace

bool fires_unevenly(const QualityInput& in) {
  return in.alternating && in.figures.cut.edge != Edge::none && clearly_apart(in, difference_of(in));
}

void note_symmetry(const QualityInput& in, Notes& notes) {
  constexpr double uneven = 0.15;
  if (!in.alternating) return;
  const HalfCycleDifference found = difference_of(in);
  if (const auto apart = clearly_apart(in, found)) {
    const double volts =
        mean_over(in.window, in.capture.samples(), [&](std::size_t k) { return in.capture.voltage_v[k]; });
    notes.push_back(
        {"asymmetric_firing",
         Severity::warning,
         fmt::format("The dimmer cuts positive half cycles {:.1f} degrees {} than negative ones: the lamp is fed with "
                     "DC ({:.3g} V and {:.3g} A, the latter taken for the clamp's offset), and the figures are those "
                     "of neither. Use another dimmer for the capture.",
                     std::abs(*apart), *apart > 0.0 ? "later" : "earlier", volts, in.figures.current_offset_a),
         {{"edge_difference_deg", *apart}}});
    return;
  }
  const double share = found.current_share;
  if (std::abs(share) <= uneven) return;
  notes.push_back(
      {"asymmetric_current",
       Severity::warning,
       fmt::format("Positive half cycles carry {:.0f} % {} rms current than negative ones. A dimmer that misses half "
                   "cycles or a diode in series does that; the models of this program draw alike from both. Its "
                   "DC part was taken for the clamp's offset.",
                   100.0 * std::abs(share), share > 0.0 ? "more" : "less"),
       {{"current_share", share}}});
}

}  // namespace lampload
