#pragma once
// What the shape of the fitted current says about what it leaves over.

#include "core/capture/capture.h"
#include "core/waveform/figures.h"
#include "fit/fit.h"

namespace lampload {

struct CurrentShape {
  bool cut = false;  ///< by a dimmer
  /// Peak over rms of the fitted current in the steady cycles: about 1.5 where it flows all the time, 3 and more where
  /// it comes in pulses. 0: no steady mains cycles.
  double crest_factor = 0.0;
  /// Power that flows while the fitted lamp draws next to nothing, the mark of a second load beside it, as a share of
  /// all; negative: the model draws more there than was measured. 0 where fewer than three half cycles show it.
  double quiet_power_share = 0.0;
  double quiet_power_error = 0.0;  ///< standard error of that, by its scatter between half cycles
};

CurrentShape current_shape(const Capture& capture, const Figures& figures, const CaptureFit& fit);

}  // namespace lampload
