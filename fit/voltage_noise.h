#pragma once
// The driving voltage without its noise. A model with an input capacitance or a low series resistance passes the noise
// of the voltage channel on to its current; local polynomials take it out where the waveform is smooth and leave the
// edges of a cut alone.

#include <cstddef>
#include <span>
#include <vector>

namespace lampload {

/// Standard deviation of white noise on a smooth waveform, from its third differences (median, so that edges do not
/// count); at least what a digitiser step of `step` adds.
double noise_of(std::span<const double> samples, double step);

/// Samples k where the waveform jumps between k and k + 1 faster than `slew_per_sample` and the noise explain.
std::vector<std::size_t> jumps_of(std::span<const double> samples, double slew_per_sample, double noise);

/// A waveform without its noise, and what may still be wrong with it.
struct Smooth {
  std::vector<double> value;
  std::vector<double> sd;           ///< standard deviation of each value
  std::vector<std::size_t> window;  ///< samples that each value rests on: errors of values this close go together
};

/// Local quadratic through each sample over the widest window (up to `half_width` samples each side, not across a jump)
/// whose scatter the noise explains. `step` of the digitiser (0: none): its error follows the waveform and averages out
/// badly.
Smooth without_noise(std::span<const double> samples, std::span<const std::size_t> jumps, double noise, double step,
                     std::size_t half_width);

}  // namespace lampload
