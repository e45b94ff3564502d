#pragma once

#include <vector>

#include "db/library.h"

namespace lampload {

/// What the lamp's fitted circuit draws on a capture's voltage, and what it leaves of the measured current. Empty
/// where no family describes the lamp.
struct FittedCurrent {
  std::vector<double> shown_a;     ///< one a sample
  std::vector<double> residual_a;  ///< measured less fitted
  double rms_a = 0.0;              ///< of the residual
};

/// By the fit of the capture's own piece where pieces were fitted one by one. `stored` has its samples.
FittedCurrent fitted_current(const LampRecord& lamp, const StoredCapture& stored);

}  // namespace lampload
