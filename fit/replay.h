#pragma once
// What a fitted lamp draws on the voltage of a capture, as the instrument would have shown it: the picture beside the
// measured current, from what is kept of a fit.

#include <optional>
#include <vector>

#include "core/capture/capture.h"
#include "core/lamp/lamp.h"
#include "core/waveform/figures.h"

namespace lampload {

/// What the fit found of the instrument in this capture.
struct ReplayedChannel {
  double current_offset_a = 0.0;
  double current_delay_s = 0.0;
  std::optional<double> bandwidth_hz;  ///< of the current channel; empty: unlimited
};

/// One value a sample [A]. A turn-on begins at rest; else the lamp has been running on the record's first cycle for
/// long (a fit may find a start state a little off from that, where the record shows it). Throws Error{input_refused}
/// where the capture is too short to fit.
std::vector<double> replayed_current(const Lamp& lamp, const Capture& capture, const Figures& figures,
                                     const ReplayedChannel& channel);

}  // namespace lampload
