#pragma once
// The moment a lamp is connected, and the surge that follows.

#include <cstddef>
#include <optional>
#include <span>

#include "core/waveform/figures.h"

namespace lampload {

/// Looks for a record that begins before the lamp is connected: the voltage (or, measured ahead of the switch, the
/// current alone) is quiet at the start for longer than it ever is later on. The phase is left at 0.
std::optional<TurnOn> find_turn_on(std::span<const double> voltage_v, std::span<const double> current_a,
                                   double interval_s);

/// The surge in the half cycle, or other `span_s`, after the turn-on; offset_a is subtracted.
Inrush measure_inrush(std::span<const double> current_a, double offset_a, double interval_s, const TurnOn& turn_on,
                      double span_s);

}  // namespace lampload
