#pragma once
// Power terms over whole cycles, after IEEE 1459-2010, single phase.

#include <optional>
#include <span>

#include "core/waveform/cycles.h"

namespace lampload {

struct PowerTerms {
  double voltage_rms_v = 0.0;
  double current_rms_a = 0.0;
  double current_peak_a = 0.0;
  double active_power_w = 0.0;
  double apparent_power_va = 0.0;
  std::optional<double> power_factor;
  std::optional<double> displacement_factor;  ///< of the fundamentals; empty for DC
  std::optional<double> current_crest_factor;
  std::optional<double> current_thd_percent;  ///< harmonics 2 to 40; empty for DC
  double displacement_deg = 0.0;              ///< fundamental current ahead of the voltage: positive
};

/// current_offset_a is subtracted. Without harmonics (DC) the window counts as one cycle.
PowerTerms power_terms(std::span<const double> voltage_v, std::span<const double> current_a, double current_offset_a,
                       const CycleWindow& window, bool alternating);

}  // namespace lampload
