#pragma once
// Which whole cycles of a record show the lamp in its steady state.

#include <optional>
#include <vector>

#include "core/waveform/cycles.h"
#include "core/waveform/figures.h"

namespace lampload {

/// Rms of the current in each cycle of the window, each about its own mean.
std::vector<double> cycle_currents(const Capture& capture, const CycleWindow& window);

/// After a turn-on: the last cycles that no longer change. Otherwise all cycles, unless the lamp is switched in
/// between: then the longest stretch in which its current flows unchanged. Zero cycles: not one whole cycle is left.
CycleWindow steady_cycles(const Capture& capture, const std::optional<TurnOn>& turn_on, double cycle_samples);

}  // namespace lampload
