#pragma once
// What a capture needs: the thresholds of the quality notes, which the guide to measuring asks for as well. Common
// practice, no source.

#include <cstddef>

namespace lampload::quality_limits {

constexpr std::size_t fewest_cycles = 3;           ///< whole steady mains cycles, or periods of pulses
constexpr double fewest_steps_of_peak = 25.0;      ///< of the digitiser, in the current
constexpr double fewest_samples_a_cycle = 200.0;   ///< of the mains
constexpr double fewest_samples_a_pulse = 50.0;    ///< a period of DC pulses
constexpr double fewest_samples_of_a_surge = 5.0;  ///< at half of its height
constexpr double enough_clamp_bandwidth_hz = 100e3;
constexpr double slow_clamp_bandwidth_hz = 20e3;

}  // namespace lampload::quality_limits
