#pragma once
// How voltage and current rise where a leading-edge dimmer fires: what the channels' delay and bandwidth are told by.

#include <span>
#include <vector>

#include "core/waveform/cycles.h"

namespace lampload {

/// One firing; instants are sample numbers with their fraction, where a channel passes a share of its rise.
struct EdgeTimes {
  double voltage_10 = 0.0;
  double voltage_90 = 0.0;
  double current_10 = 0.0;
  double current_50 = 0.0;
  double current_90 = 0.0;
};

/// Those of the window in which both channels show the edge.
std::vector<EdgeTimes> edge_times(std::span<const double> voltage_v, std::span<const double> current_a,
                                  double interval_s, const CycleWindow& window);

}  // namespace lampload
