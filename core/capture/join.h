#pragma once
// Voltage and current that were recorded together and written apart.

#include <string>

#include "core/capture/capture.h"

namespace lampload {

/// One capture of the voltage of the one and the current of the other, where both are there at the same time. Throws
/// Error{input_refused} where their clocks differ by more than a tenth of a sample, or they hardly overlap.
Capture join_channels(const std::string& path, Capture voltage, Capture current);

}  // namespace lampload
