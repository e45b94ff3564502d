#pragma once
// One mains cycle of a channel's current, as the supply and its neutral see it.

#include "core/circuit/drive.h"
#include "core/standards/harmonic_limits.h"

namespace lampload {

struct LineCycle {
  HarmonicCurrents harmonics;
  double rms_a = 0.0;
  /// In the neutral that three phases share, each with a channel like this one: i(t) + i(t - T/3) + i(t + T/3), which
  /// is three times the orders that 3 divides.
  double neutral_rms_a = 0.0;
};

/// last_cycle: what DrivenChannel::steady() records, one whole cycle of frequency_hz. supply_v: rms, for the power
/// factor.
LineCycle line_cycle(const Waveform& last_cycle, const SteadyFigures& figures, double supply_v, double frequency_hz);

}  // namespace lampload
