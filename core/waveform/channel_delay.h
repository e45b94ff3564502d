#pragma once
// Time error between the two channels, where a capture shows it by itself.

#include <optional>
#include <span>

#include "core/waveform/cycles.h"

namespace lampload {

/// How much earlier than the voltage edges that drive it the current rises, in seconds (> 0), on a leading-edge cut:
/// the median over the edges of the window. No lamp does that, so the channels are skewed. Empty where the current does
/// not clearly come first, or where fewer than four edges show it. A late current proves nothing: an inductance or a
/// slow probe may be the cause.
std::optional<double> early_current_s(std::span<const double> voltage_v, std::span<const double> current_a,
                                      double interval_s, const CycleWindow& window);

}  // namespace lampload
