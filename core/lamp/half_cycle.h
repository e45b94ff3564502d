#pragma once
// What a mean half cycle of voltage and current (StartHints) says of a lamp without a reservoir: its current depends on
// the voltage of the moment, and on an input capacitance.

#include <optional>
#include <vector>

#include "core/lamp/one_port.h"

namespace lampload {

struct HalfCycle {
  double capacitance_f = 0.0;  ///< across the terminals; not negative
  /// How far the current differs between the rising and the falling side of the half cycle, the capacitance's share
  /// taken out: rms over the rms of the current. Empty where a cut leaves too little of one side.
  std::optional<double> loop;
  std::vector<double> voltage_v;  ///< of the connected part, in rising order
  std::vector<double> current_a;  ///< at these voltages, the capacitance's share taken out
};

/// Empty where the hints hold no half cycle.
std::optional<HalfCycle> read_half_cycle(const StartHints& hints);

/// A lamp whose current has a loop of more than this over the voltage has a reservoir or an inductance. A clamp 50 us
/// late makes 0.03 with a resistance, pulses before the crest make more than 1.
inline constexpr double widest_loop = 0.3;

/// Power factor below which a capacitor with little behind it is no lamp.
inline constexpr double least_power_factor = 0.3;

}  // namespace lampload
