#pragma once
// How voltage and current rise where a leading-edge dimmer fires: what the channels' delay and bandwidth are told by.

#include <cstddef>
#include <span>
#include <vector>

#include "core/waveform/cycles.h"

namespace lampload {

/// A leading-edge dimmer's jump of the voltage, upwards from low to high.
struct VoltageRise {
  std::size_t sample = 0;  ///< the first after it
  double low_v = 0.0;
  double high_v = 0.0;
};

/// Those of the window; of a burst of jumps only the first, which is the dimmer's.
std::vector<VoltageRise> voltage_rises(std::span<const double> voltage_v, double interval_s, const CycleWindow& window);

/// One firing; instants are sample numbers with their fraction, where a channel passes a share of its rise.
struct EdgeTimes {
  double voltage_10 = 0.0;
  double voltage_90 = 0.0;
  double current_10 = 0.0;
  double current_50 = 0.0;
  double current_90 = 0.0;
};

/// Those of the window in which both channels show the edge: the current jumps out of its noise, by a good share of its
/// peak. A lamp whose reservoir stands above the voltage draws nothing there.
std::vector<EdgeTimes> edge_times(std::span<const double> voltage_v, std::span<const double> current_a,
                                  double interval_s, const CycleWindow& window);

}  // namespace lampload
