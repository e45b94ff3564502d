#pragma once
// A switch that closes more than once.

#include <cstddef>
#include <optional>
#include <span>

#include "core/waveform/mains_sine.h"

namespace lampload {

struct ContactBounce {
  std::size_t interruptions = 0;
  double duration_s = 0.0;  ///< from the first contact to the last
};

/// Looks for interruptions in the 20 ms after a turn-on: the terminals leave the mains sine and carry no current, then
/// return to it. phase_deg: of the mains at `turn_on_sample`. Empty: the switch closed once.
std::optional<ContactBounce> contact_bounce(std::span<const double> voltage_v, std::span<const double> current_a,
                                            double current_offset_a, double interval_s, double frequency_hz,
                                            std::size_t turn_on_sample, double phase_deg, double amplitude_v);

}  // namespace lampload
