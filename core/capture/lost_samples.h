#pragma once
// Samples that the file itself says were beyond the instrument's range, or are no value.

#include "core/capture/capture.h"

namespace lampload {

/// What a reader puts in the place of such a sample: an infinity where the file gives its sign, else NaN.
double lost_sample(double as_written);

/// Holds the end of the range in place of infinities and the nearest value in place of NaN, marks those samples as
/// clipped, and says so. Throws Error{input_refused} where more than a tenth of a channel is lost.
void fill_lost_samples(Capture& capture);

}  // namespace lampload
