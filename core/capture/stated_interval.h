#pragma once
// A sample interval that a file states beside its time column, where the two do not agree.

#include <cstddef>

#include "core/capture/capture.h"
#include "core/capture/time_base.h"

namespace lampload {

/// What a time column counts in.
struct StampUnit {
  double seconds = 1.0;    ///< by its name
  std::size_t stride = 1;  ///< samples from stamp to stamp, where rows were left out regularly
};

/// True: the stamps are the numbers of the samples (whole, counting by one from 0 or 1) and the file states an interval
/// other than that. The capture then has the stated start and interval, and says so.
bool take_stated_interval(const Stamps& stamps, const StatedClock& stated, StampUnit unit, Capture& capture);

/// Warns where the capture's interval is not what the file states.
void compare_with_stated(const StatedClock& stated, StampUnit unit, Capture& capture);

}  // namespace lampload
