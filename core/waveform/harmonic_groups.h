#pragma once
// Harmonic groups after IEC 61000-4-7: what stands between the harmonics, as in a current that changes from cycle to
// cycle, counts with the nearest of them.

#include <array>
#include <cstddef>
#include <span>

#include "core/waveform/cycles.h"
#include "core/waveform/harmonics.h"

namespace lampload {

struct HarmonicGroups {
  std::array<double, kHighestHarmonic + 1> rms{};  ///< by order, in the unit of the values; [0]: the mean's magnitude
  std::size_t cycles = 0;   ///< in one window; the standard's 10 (50 Hz) or 12 (60 Hz), fewer where there are no more
  std::size_t windows = 0;  ///< over which the squares were averaged
};

/// Groups (not subgroups) of rectangular windows of 10 or 12 cycles, five windows at most; one window of all cycles
/// where there are fewer. frequency_hz tells 50 from 60 Hz. Orders whose group reaches beyond half of the sample rate
/// are 0.
HarmonicGroups harmonic_groups(std::span<const double> values, const CycleWindow& window, double frequency_hz);

}  // namespace lampload
