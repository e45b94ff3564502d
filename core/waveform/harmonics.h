#pragma once
// Harmonics of the mains in a sampled waveform.

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

#include "core/waveform/cycles.h"

namespace lampload {

constexpr std::size_t kHighestHarmonic = 40;  // IEC 61000-3-2 looks no further

/// Complex peak amplitudes c[0..highest] over the window: x(t) = c[0] + sum of Re(c[h] exp(j h w t)), t = 0 at the
/// window's first sample. Those at or above half of the sample rate are zero. For rms values divide by sqrt(2).
std::vector<std::complex<double>> harmonic_amplitudes(std::span<const double> values, const CycleWindow& window,
                                                      std::size_t highest = kHighestHarmonic);

/// Rms of harmonics 2 to the highest given, over the fundamental. 0 where there is no fundamental.
double total_harmonic_distortion(std::span<const std::complex<double>> amplitudes);

}  // namespace lampload
