#pragma once
// The part of a terminal voltage that the mains explain: a sine with a few odd harmonics, less what the lamp's own
// current drops in the source. Few numbers describe it, so it carries next to none of the digitiser's noise; the rest
// is left to local smoothing.

#include <optional>
#include <span>
#include <vector>

#include "core/waveform/figures.h"

namespace lampload {

struct MainsPart {
  /// One value a sample, valid where the lamp is connected to the mains; elsewhere it is what the mains would have
  /// shown.
  std::vector<double> voltage_v;
  double offset_v = 0.0;  ///< of the voltage channel: the mains have none
};

/// voltage, current: of the record from sample `first` of the capture on; current without its noise, offset removed.
/// noise: of the voltage. Nothing where there are no mains, or the record does not follow a sine for long enough.
std::optional<MainsPart> mains_part(std::span<const double> voltage, std::span<const double> current, double dt_s,
                                    std::size_t first, const Figures& figures, double noise);

}  // namespace lampload
