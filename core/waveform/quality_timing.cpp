// Time: length, sample rate, bandwidth, delay between the channels, contacts.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

#include "core/capture/between_samples.h"
#include "core/waveform/channel_delay.h"
#include "core/waveform/contact_bounce.h"
#include "core/waveform/edge_times.h"
#include "core/waveform/peak_between_samples.h"
#include "core/waveform/pulse_droop.h"
#include "core/waveform/quality_limits.h"
#include "core/waveform/quality_notes.h"

namespace lampload {
namespace {

std::string count_of(std::size_t count, const char* one, const char* many) {
  return fmt::format("{} {}", count, count == 1 ? one : many);
}

/// Power factor with the current moved to a later time (negative: an earlier one).
double power_factor_if_later(const QualityInput& in, double seconds) {
  const double samples = seconds / in.capture.sample_interval_s;
  const double watts = mean_over(in.window, in.capture.samples(), [&](std::size_t k) {
    const double at = std::clamp(static_cast<double>(k) - samples, 0.0, static_cast<double>(in.capture.samples() - 1));
    return in.capture.voltage_v[k] * (between_samples(in.capture.current_a, at) - in.figures.current_offset_a);
  });
  return watts / in.power.apparent_power_va;
}

double median(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

std::size_t surge_top(const QualityInput& in) {
  const std::size_t first = in.figures.turn_on->sample > 0 ? in.figures.turn_on->sample - 1 : 0;
  const double half_cycle_s = in.figures.mains_frequency_hz ? 0.5 / *in.figures.mains_frequency_hz : 10e-3;
  const auto span = static_cast<std::size_t>(half_cycle_s / in.capture.sample_interval_s);
  std::size_t top = first;
  const auto amperes = [&](std::size_t k) { return std::abs(in.capture.current_a[k] - in.figures.current_offset_a); };
  for (std::size_t k = first; k < std::min(in.capture.samples(), first + span); ++k) {
    if (amperes(k) > amperes(top)) top = k;
  }
  return top;
}

/// True: the surge is too narrow for the sample rate, and that was said.
bool note_narrow_surge(const QualityInput& in, Notes& notes) {
  if (!in.figures.inrush || !in.figures.turn_on) return false;
  constexpr double tolerable = 0.05;
  constexpr double much = 0.15;
  const double interval = in.capture.sample_interval_s;
  const double peak = in.figures.inrush->peak_a;
  const double width = in.figures.inrush->width_s;
  const double at_most = peak_at_most_a(in.capture.current_a, in.figures.current_offset_a, surge_top(in));
  const double more = at_most / peak - 1.0;
  const bool narrow = width < quality_limits::fewest_samples_of_a_surge * interval;
  if (!(peak > 0.0) || (!narrow && more < tolerable)) return false;
  notes.push_back(
      {"slow_sampling",
       narrow || more > much ? Severity::warning : Severity::note,
       fmt::format("Between its samples the inrush may have reached {:.3g} A, {:.0f} % more than the {:.3g} A "
                   "seen; it is {:.1f} samples wide at half of that. Sample at {:.2g} Hz or faster.",
                   at_most, 100.0 * more, peak, width / interval,
                   std::max(20.0 / std::max(width, interval), 2.0 / interval)),
       {{"width_samples", width / interval}, {"peak_a", peak}, {"peak_at_most_a", at_most}}});
  return true;
}

void note_resistive_skew(const QualityInput& in, Notes& notes) {
  using Cause = ResistiveSkew::Cause;
  const auto skew =
      resistive_skew(in.capture.voltage_v, in.capture.current_a, *in.figures.mains_frequency_hz, in.window);
  if (!skew || skew->cause == Cause::capacitance) return;
  const bool leads = skew->lead_s > 0.0;
  const std::string seen =
      fmt::format("The current has the voltage's shape but {} it by {:.1f} degrees ({:.0f} us)",
                  leads ? "leads" : "lags behind", std::abs(skew->lead_deg), 1e6 * std::abs(skew->lead_s));
  // What the same skew does to a lamp of power factor 0.5, whose current leads as those of most rectifiers do.
  const double lead = skew->lead_deg * std::numbers::pi / 180.0;
  const double other = std::cos(std::numbers::pi / 3.0 + lead);
  std::string meaning;
  if (skew->cause == Cause::low_cut) {
    meaning =
        ", and its harmonics do not: the current channel passes no DC and turns low frequencies. Use a clamp that "
        "passes "
        "DC, or a shunt";
  } else {
    const bool delay = skew->cause == Cause::delay;
    meaning = fmt::format(
        "{}: if this is a filament lamp or a heater, the channels are skewed{}. Give --current-delay "
        "{:.3g} with every capture made with these probes",
        delay ? ", and so do its harmonics" : "",
        delay || !leads ? "" : ", or the clamp passes no DC and turns low frequencies", -skew->lead_s);
  }
  notes.push_back({"channel_delay",
                   skew->cause == Cause::open ? Severity::note : Severity::warning,
                   fmt::format("{}{}. A lamp of power factor 0.50 would read {:.2f}.", seen, meaning, other),
                   {{"current_leads_deg", skew->lead_deg}, {"current_leads_s", skew->lead_s}}});
}

void note_pulse_droop(const QualityInput& in, Notes& notes) {
  const auto droop =
      pulse_droop(in.capture.current_a, in.window, *in.figures.mains_frequency_hz, in.figures.steady_phase_deg);
  constexpr double of_a_step = 0.3;
  if (!droop || droop->behind_a < of_a_step * in.capture.current_step_a) return;
  const double more = droop->corner_hz / *in.figures.mains_frequency_hz *
                      std::tan(in.power.displacement_deg * std::numbers::pi / 180.0);
  const double factor = in.power.power_factor.value_or(0.0);
  notes.push_back(
      {"channel_delay",
       Severity::warning,
       fmt::format(
           "Behind each pulse {:.2g} A flow backwards, {:.0f} % of its peak, which no rectifier lets through: the "
           "current channel passes no DC and turns low frequencies ahead, the fundamental by up to {:.0f} "
           "degrees. The power factor reads {:.2f} and may be up to {:.2f}. Use a clamp that passes DC, or a "
           "shunt.",
           droop->behind_a, 100.0 * droop->of_peak, droop->lead_deg, factor,
           std::clamp(factor * (1.0 + more), 0.0, 1.0)),
       {{"behind_a", droop->behind_a}, {"current_leads_deg", droop->lead_deg}}});
}

}  // namespace

void note_cycles(const QualityInput& in, Notes& notes) {
  if (in.window.cycles >= quality_limits::fewest_cycles) return;
  const std::vector<Evidence> evidence{{"cycles", static_cast<double>(in.window.cycles)}};
  if (in.alternating) {
    // A turn-on is taken for its beginning; that a few cycles follow is enough.
    const bool follow = in.figures.turn_on && in.window.cycles == 2;
    notes.push_back({"too_few_cycles", follow ? Severity::note : Severity::warning,
                     fmt::format("Only {} found: nothing shows how steady the lamp is. Capture ten cycles or more.",
                                 count_of(in.window.cycles, "whole steady cycle was", "whole steady cycles were")),
                     evidence});
  } else if (in.figures.direct && in.figures.direct->pulses) {
    notes.push_back(
        {"too_few_cycles", Severity::warning,
         fmt::format("Only {} found: nothing shows how steady the lamp is. Capture ten or more.",
                     count_of(in.window.cycles, "whole period of the pulses was", "whole periods of the pulses were")),
         evidence});
  }
}

void note_sampling(const QualityInput& in, Notes& notes) {
  if (note_narrow_surge(in, notes)) return;
  const std::vector<Evidence> evidence{{"samples_a_cycle", in.window.cycle_samples}};
  if (in.alternating && in.window.cycle_samples < quality_limits::fewest_samples_a_cycle) {
    notes.push_back({"slow_sampling", Severity::warning,
                     fmt::format("Only {:.0f} samples a mains cycle: narrow current pulses and cut edges are blurred. "
                                 "Sample at 20 kHz or faster.",
                                 in.window.cycle_samples),
                     evidence});
  } else if (in.figures.direct && in.figures.direct->pulses &&
             in.window.cycle_samples < quality_limits::fewest_samples_a_pulse) {
    notes.push_back(
        {"slow_sampling", Severity::warning,
         fmt::format("Only {:.0f} samples a period of the pulses: their edges are blurred. Sample at {:.2g} "
                     "Hz or faster.",
                     in.window.cycle_samples, 200.0 * in.figures.direct->pulses->frequency_hz),
         evidence});
  }
}

// A resistance takes the voltage's steps at once; how another lamp's current rises is its own affair.
void note_clamp_bandwidth(const QualityInput& in, Notes& notes) {
  constexpr std::size_t fewest_edges = 4;
  constexpr double resistive = 0.95;      // power factor
  constexpr double clearly_slower = 2.0;  // samples
  if (!in.alternating || in.figures.cut.edge != Edge::leading || in.figures.cut.supply_side_voltage) return;
  if (in.power.power_factor.value_or(0.0) < resistive) return;
  if (in.power.current_peak_a < quality_limits::fewest_steps_of_peak * in.capture.current_step_a) return;
  const double interval = in.capture.sample_interval_s;
  const auto edges = edge_times(in.capture.voltage_v, in.capture.current_a, interval, in.window);
  if (edges.size() < fewest_edges) return;
  std::vector<double> volts, amperes;
  for (const EdgeTimes& edge : edges) {
    volts.push_back(edge.voltage_90 - edge.voltage_10);
    amperes.push_back(edge.current_90 - edge.current_10);
  }
  const double of_voltage = median(volts);
  const double of_current = median(amperes);
  if (of_current < of_voltage + clearly_slower) return;
  const double slower_s = std::sqrt(of_current * of_current - of_voltage * of_voltage) * interval;
  const double time_constant_s = slower_s / std::log(9.0);  // from 10 to 90 % of a first-order rise
  const double bandwidth_hz = 0.5 / std::numbers::pi / time_constant_s;
  if (bandwidth_hz > quality_limits::enough_clamp_bandwidth_hz) return;
  // A pulse that decays with a time constant, seen through one r times as long, peaks at r^(r / (1 - r)).
  constexpr double usual_pulse_s = 50e-6;
  const double r = time_constant_s / usual_pulse_s;
  const double low = r == 1.0 ? 1.0 - std::exp(-1.0) : 1.0 - std::pow(r, r / (1.0 - r));
  notes.push_back(
      {"slow_clamp",
       bandwidth_hz < quality_limits::slow_clamp_bandwidth_hz ? Severity::warning : Severity::note,
       fmt::format("At the cut edge the current takes {:.0f} us to rise where the voltage takes {:.0f}: the current "
                   "channel ends near {:.0f} kHz. This lamp loses nothing by it; the peak of one with a reservoir, "
                   "decaying within 50 us of the edge, would read {:.0f} % low. Use a clamp of 100 kHz or more, or a "
                   "shunt.",
                   1e6 * of_current * interval, 1e6 * of_voltage * interval, 1e-3 * bandwidth_hz, 100.0 * low),
       {{"bandwidth_hz", bandwidth_hz}, {"peak_low_percent", 100.0 * low}}});
}

void note_channel_delay(const QualityInput& in, Notes& notes) {
  if (!in.alternating || !in.power.power_factor) return;
  const auto say = [&](double late_s, const std::string& seen) {
    constexpr double matters = 0.01;  // of the power factor
    const double factor = *in.power.power_factor;
    const double moved = power_factor_if_later(in, -late_s);
    notes.push_back(
        {"channel_delay",
         std::abs(moved - factor) > matters * std::abs(factor) ? Severity::warning : Severity::note,
         fmt::format("{}: the channels are skewed. The power factor is {:.3f} as recorded and {:.3f} with the current "
                     "moved{}. Give --current-delay {:.3g} with every capture made with these probes.",
                     seen, factor, moved, in.early_current_s ? ", as the figures have it" : "", late_s),
         {{"current_late_s", late_s}, {"power_factor_moved", moved}}});
  };
  if (in.early_current_s) {
    say(-*in.early_current_s,
        fmt::format("The current rises {:.1f} us before the voltage edges that drive it, which no lamp does",
                    1e6 * *in.early_current_s));
    return;
  }
  if (in.figures.cut.supply_side_voltage) return;
  if (in.figures.cut.edge == Edge::none) {
    note_resistive_skew(in, notes);
    note_pulse_droop(in, notes);
    return;
  }
  const double interval = in.capture.sample_interval_s;
  if (const auto moved = cut_resistance_late_s(in.capture.voltage_v, in.capture.current_a, interval, in.window)) {
    say(*moved, fmt::format("The current has the shape of the cut voltage, but {:.0f} us {}", 1e6 * std::abs(*moved),
                            *moved > 0.0 ? "later" : "earlier"));
  } else if (in.figures.cut.edge == Edge::leading) {
    const auto late = late_current_s(in.capture.voltage_v, in.capture.current_a, interval, in.window);
    if (late) {
      say(*late,
          fmt::format("The current begins to rise {:.1f} us after the voltage edges that drive it, though it then "
                      "rises fast",
                      1e6 * *late));
    }
  }
}

void note_contact_bounce(const QualityInput& in, Notes& notes) {
  if (!in.alternating || !in.figures.turn_on || in.figures.turn_on->supply_side_voltage || !in.sine ||
      in.figures.cut.edge != Edge::none)
    return;
  const auto bounce = contact_bounce(in.capture.voltage_v, in.capture.current_a, in.figures.current_offset_a,
                                     in.capture.sample_interval_s, *in.figures.mains_frequency_hz,
                                     in.figures.turn_on->sample, in.figures.turn_on->phase_deg, in.sine->amplitude_v);
  if (!bounce) return;
  notes.push_back(
      {"contact_bounce",
       Severity::warning,
       fmt::format("The switch opened {} again within {:.2g} ms of closing: the surge is spread over several "
                   "contacts and may be lower than that of a clean one. Switch on again, with a switch that "
                   "does not bounce.",
                   count_of(bounce->interruptions, "time", "times"), 1e3 * bounce->duration_s),
       {{"interruptions", static_cast<double>(bounce->interruptions)}, {"duration_s", bounce->duration_s}}});
}

}  // namespace lampload
