#pragma once
// The part of a terminal voltage that the mains explain: a sine with a few odd harmonics, less what the lamp's own
// current drops in the source. Few numbers describe it, so it carries next to none of the digitiser's noise; the rest
// is left to local smoothing.

#include <span>
#include <vector>

#include "core/waveform/figures.h"

namespace lampload {

/// One value a sample, valid where the lamp is connected to the mains; elsewhere it is what the mains would have shown.
/// voltage, current: of the record from sample `first` of the capture on; current without its noise, offset removed.
/// noise: of the voltage. Empty where there are no mains, or the record does not follow a sine for long enough.
std::vector<double> mains_part(std::span<const double> voltage, std::span<const double> current, double dt_s,
                               std::size_t first, const Figures& figures, double noise);

}  // namespace lampload
