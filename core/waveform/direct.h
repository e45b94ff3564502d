#pragma once
// DC supplies: steady, or switched on and off by a pulse-width dimmer.

#include <cstddef>
#include <optional>
#include <span>

#include "core/waveform/cycles.h"
#include "core/waveform/figures.h"

namespace lampload {

struct DirectFinding {
  Direct direct;
  CycleWindow window;             ///< whole periods of the pulses; one "cycle" that is all of the steady part without
  double current_offset_a = 0.0;  ///< what the current channel shows while the lamp is not fed; 0 where it always is
  double current_noise_a = 0.0;   ///< of one sample while it is fed
  bool supply_side_voltage = false;  ///< the current is switched, the voltage is not
};

/// Looks at the samples from `live` on. Empty: the voltage is neither steady nor switched at a regular rate.
std::optional<DirectFinding> find_direct(const Capture& capture, const std::optional<TurnOn>& turn_on);

}  // namespace lampload
