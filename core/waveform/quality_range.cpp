// Ranges and zeros of both channels.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/waveform/quality_limits.h"
#include "core/waveform/quality_notes.h"

namespace lampload {
namespace {

bool lost_to_overload(const QualityInput& in, std::string_view code) {
  return std::any_of(in.capture.notes.begin(), in.capture.notes.end(),
                     [&](const QualityNote& note) { return note.code == code; });
}

/// Standard deviation of what differs from sample to sample without belonging to the waveform, which keeps its slope
/// nearly everywhere.
double sample_noise(std::span<const double> x) {
  std::vector<double> bends;
  for (std::size_t k = 1; k + 1 < x.size(); ++k) bends.push_back(std::abs(x[k - 1] - 2.0 * x[k] + x[k + 1]));
  if (bends.empty()) return 0.0;
  const auto middle = bends.begin() + static_cast<std::ptrdiff_t>(bends.size() / 2);
  std::nth_element(bends.begin(), middle, bends.end());
  constexpr double median_of_normal = 0.6745;
  return *middle / median_of_normal / std::sqrt(6.0);
}

/// How far the highest sample stands above the mean crest of the half cycles: what steps and noise add to it.
double peak_excess(const QualityInput& in) {
  double crest = 0.0;
  for (const double i : folded_half_cycle(in.capture.current_a, in.window, fold_points(in.window)))
    crest = std::max(crest, std::abs(i));
  return crest > 0.0 ? std::max(0.0, in.power.current_peak_a / crest - 1.0) : 0.0;
}

}  // namespace

void note_clipping(const QualityInput& in, Notes& notes) {
  struct Clipped {
    const char* channel;
    std::uint8_t bit;
    const std::vector<double>& values;
    const char* unit;
  };
  for (const Clipped& one :
       {Clipped{"voltage", 1, in.capture.voltage_v, "V"}, Clipped{"current", 2, in.capture.current_a, "A"}}) {
    if (lost_to_overload(in, fmt::format("overload_{}", one.channel))) continue;
    std::size_t samples = 0;
    double level = 0.0;
    bool surge = false;
    for (std::size_t k = 0; k < in.capture.clipped.size(); ++k) {
      if ((in.capture.clipped[k] & one.bit) == 0) continue;
      ++samples;
      level = std::max(level, std::abs(one.values[k]));
      surge = surge || (one.bit == 2 && in.figures.turn_on && k >= in.figures.turn_on->sample &&
                        static_cast<double>(k - in.figures.turn_on->sample) < 0.5 * in.window.cycle_samples);
    }
    if (samples == 0) continue;
    const double share = static_cast<double>(samples) / static_cast<double>(in.capture.samples());
    std::string lost = "peak, rms and power read too low";
    if (one.bit == 1 && in.figures.cut.edge != Edge::none && !in.figures.cut.supply_side_voltage)
      lost += ", and clipped crests may look like a cut: the one that was read is not to be believed";
    if (surge) lost = "the surge after turn-on, which decides how many lamps a channel may switch, is cut off";
    notes.push_back({fmt::format("clipping_{}", one.channel),
                     surge ? Severity::error : Severity::warning,
                     fmt::format("{} {} samples ({:.2g} %) sit at the end of the range, {:.4g} {}: {}. Choose a larger "
                                 "{} range and capture again.",
                                 samples, one.channel, 100.0 * share, level, one.unit, lost, one.channel),
                     {{"samples", static_cast<double>(samples)}, {"share", share}, {"level", level}}});
  }
}

void note_resolution(const QualityInput& in, Notes& notes) {
  constexpr double few_steps = quality_limits::fewest_steps_of_peak;
  constexpr double much_noise = 0.03;  // of the peak
  const double step = in.capture.current_step_a;
  const double peak = in.power.current_peak_a;
  const bool few = step > 0.0 && (peak < few_steps * step || in.power.current_rms_a < 0.3 * few_steps * step);
  const double noise = sample_noise(in.capture.current_a);
  if (!few && noise <= much_noise * peak) return;
  const std::string seen =
      few ? fmt::format("spans {:.0f} steps of the digitiser, its rms value {:.1f} ({:.3g} A each)", peak / step,
                        in.power.current_rms_a / step, step)
          : fmt::format("stands in noise of {:.3g} A rms, {:.0f} % of it", noise, 100.0 * noise / peak);
  std::vector<Evidence> evidence{{"step_a", step}, {"noise_a", noise}};
  std::string effect;
  if (in.alternating) {
    // A step's error has the standard deviation step / sqrt(12); at worst all of it is in phase with the voltage. Noise
    // is not, and averages out.
    const double of_steps = in.power.voltage_rms_v * step / std::sqrt(12.0);
    const double power_percent = 100.0 * of_steps / std::max(std::abs(in.power.active_power_w), of_steps);
    const double crest_percent = 100.0 * std::max(peak_excess(in), few ? 0.5 * step / peak : 0.0);
    effect =
        fmt::format(" Power may be off by {:.2g} %, peak and crest factor by {:.2g} %.", power_percent, crest_percent);
    evidence.push_back({"power_error_percent", power_percent});
    evidence.push_back({"crest_factor_error_percent", crest_percent});
  }
  // A range that takes the surge is right for a turn-on.
  const bool for_surge = in.figures.inrush && in.figures.inrush->peak_a > few_steps * (few ? step : noise);
  if (for_surge) {
    notes.push_back(
        {"current_resolution", Severity::note,
         fmt::format("In a range for the surge the running current's peak of {:.3g} A {}.{} Take the running "
                     "lamp in a capture of its own, in a smaller range.",
                     peak, seen, effect),
         std::move(evidence)});
    return;
  }
  // Of the 128 that eight bits have to either side.
  constexpr double half_a_range = 64.0;
  const bool peak_fills = few && peak >= half_a_range * step;
  const char* subject =
      peak_fills ? "The digitiser is coarse for this lamp" : "The current range is too large for this lamp";
  const char* advice = peak_fills
                           ? "Average several sweeps, or use an instrument of more bits: a smaller range would cut the "
                             "peak off."
                           : "Choose a smaller range, or wind the conductor through the clamp several times.";
  notes.push_back({"current_resolution", Severity::warning,
                   fmt::format("{}: its peak of {:.3g} A {}.{} {}", subject, peak, seen, effect, advice),
                   std::move(evidence)});
}

void note_offsets(const QualityInput& in, Notes& notes) {
  constexpr double much = 0.015;
  const double current = in.figures.current_offset_a;
  const bool of_current =
      std::abs(current) > 0.05 * in.power.current_rms_a && std::abs(current) > 2.0 * in.capture.current_step_a;
  const double voltage = in.alternating ? mean_over(in.window, in.capture.samples(),
                                                    [&](std::size_t k) { return in.capture.voltage_v[k]; })
                                        : 0.0;
  const bool of_voltage =
      std::abs(voltage) > much * in.power.voltage_rms_v && std::abs(voltage) > in.capture.voltage_step_v;
  if ((!of_current && !of_voltage) || fires_unevenly(in)) return;
  if (of_current) {
    notes.push_back(
        {"current_offset",
         Severity::note,
         fmt::format("The current channel is off by {:.3g} A; that was taken out of the figures. Zero the clamp before "
                     "the next capture.",
                     current),
         {{"offset_a", current}}});
  }
  if (!of_voltage) return;
  notes.push_back(
      {"voltage_offset",
       Severity::note,
       fmt::format("The voltage has a mean of {:.3g} V, {:.1f} % of its rms value, which mains have not. Unless the "
                   "dimmer fires unevenly, zero the probe, or give --voltage-offset {:.3g}.",
                   voltage, 100.0 * std::abs(voltage) / in.power.voltage_rms_v, voltage),
       {{"offset_v", voltage}}});
}

}  // namespace lampload
