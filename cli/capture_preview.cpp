#include "cli/capture_preview.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/waveform/mains_sine.h"

namespace lampload {
namespace {

constexpr std::size_t shown_rows = 5;

/// Of the half cycle of the supply: where the current begins, peaks and ends.
void set_angles(const StoredCapture& stored, const CycleWindow& window, HarmonicCurrents& currents) {
  const std::size_t points = fold_points(window);
  const std::vector<double> folded = folded_half_cycle(stored.capture.current_a, window, points);
  std::vector<double> half_cycle(points);
  const double turned = std::fmod(stored.figures.steady_phase_deg, 180.0) / 180.0;
  const auto shift = static_cast<std::size_t>(std::lround(turned * static_cast<double>(points)));
  for (std::size_t k = 0; k < points; ++k) half_cycle[(k + shift) % points] = folded[k];
  set_waveform_angles(half_cycle, currents);
}

}  // namespace

CapturePreview preview_of(const StoredCapture& stored) {
  const Capture& capture = stored.capture;
  const Figures& figures = stored.figures;
  CapturePreview preview;
  preview.form = capture.form;
  for (std::size_t k = 0; k < std::min(shown_rows, capture.samples()); ++k) {
    preview.first_rows.push_back({capture.start_time_s + static_cast<double>(k) * capture.sample_interval_s,
                                  capture.voltage_v[k], capture.current_a[k]});
  }
  if (!figures.mains_frequency_hz) return preview;
  preview.segments = find_segments(capture, figures);
  const double cycle_samples = capture.sample_rate_hz() / *figures.mains_frequency_hz;
  const CycleWindow window =
      whole_cycles(figures.steady_first, figures.steady_last - figures.steady_first, cycle_samples);
  if (window.cycles == 0) return preview;
  preview.current_groups_a = harmonic_groups(capture.current_a, window, *figures.mains_frequency_hz);

  if (figures.cut.edge != Edge::none) {
    preview.no_class_c = "class C is judged on the uncut lamp";
  } else if (figures.voltage_rms_v < 0.95 * least_limited_supply_v) {
    preview.no_class_c = fmt::format("IEC 61000-3-2 sets nothing for supplies below {:g} V", least_limited_supply_v);
  } else if (!figures.power_factor) {
    preview.no_class_c = "no current flows";
  } else {
    HarmonicCurrents currents;
    for (std::size_t n = 1; n < currents.rms_a.size(); ++n) currents.rms_a[n] = preview.current_groups_a->rms[n];
    currents.power_w = figures.active_power_w;
    currents.power_factor = *figures.power_factor;
    set_angles(stored, window, currents);
    preview.class_c = class_c_use(currents);
  }
  return preview;
}

}  // namespace lampload
