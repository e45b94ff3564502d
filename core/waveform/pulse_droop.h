#pragma once
// What a current channel that passes no DC leaves behind each pulse.

#include <optional>
#include <span>

#include "core/waveform/cycles.h"

namespace lampload {

struct PulseDroop {
  double behind_a = 0.0;   ///< current behind a pulse, against the pulse: what a rectifier never lets through
  double of_peak = 0.0;    ///< the same over the pulse's peak
  double lead_deg = 0.0;   ///< of the fundamental, as a first-order channel of such a droop has it
  double corner_hz = 0.0;  ///< of that channel
};

/// Of an uncut lamp that draws its current in pulses. What a capacitance across the terminals draws, in proportion to
/// the voltage's slope, does not count. phase_deg: of the mains at the window's first sample. Empty: no pulses, or less
/// than 2 % of their peak behind them.
std::optional<PulseDroop> pulse_droop(std::span<const double> current_a, const CycleWindow& window, double frequency_hz,
                                      double phase_deg);

}  // namespace lampload
