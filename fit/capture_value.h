#pragma once
// What a capture that could still be taken would do for what is known of a lamp.

#include <string>
#include <vector>

#include "core/circuit/simulated_capture.h"

namespace lampload {

/// One load figure of the lamp, as 95 % half widths of its logarithm.
struct LoadFigure {
  std::string name;  ///< of the constraint that it decides: "continuous_current", "surge_peak", ...
  double now = 0.0;
  double then = 0.0;  ///< with the capture among the others
};

struct CaptureValue {
  CaptureSetup setup;
  std::vector<LoadFigure> figures;
};

}  // namespace lampload
