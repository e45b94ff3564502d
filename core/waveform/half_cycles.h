#pragma once
// Positive half cycles against negative ones.

#include <optional>
#include <span>

#include "core/waveform/figures.h"
#include "core/waveform/mains_sine.h"

namespace lampload {

/// What positive half cycles have that negative ones have not.
struct HalfCycleDifference {
  double current_share = 0.0;      ///< rms current of the positive less the negative ones, over that of all
  std::optional<double> edge_deg;  ///< the positive ones' cut edge is so much later; empty: no cut, or no clear edge
};

/// current: without the channel's offset. phase_deg: of the mains at the window's first sample.
HalfCycleDifference half_cycle_difference(std::span<const double> voltage_v, std::span<const double> current_a,
                                          double current_offset_a, const CycleWindow& window, double phase_deg,
                                          const Cut& cut);

}  // namespace lampload
