#pragma once
// Whether what a solution leaves is noise alone.

#include "fit/lamp_residuals.h"

namespace lampload {

/// 0 where the residuals at `full` are white, as the instrument's noise is; 1 where a model plainly misses something:
/// its residuals go together, and come again in every half cycle. Always 1 under DC, where a level repeats itself and
/// nothing shows what is missed.
double missing(const LampResiduals& residuals, const std::vector<double>& full);

}  // namespace lampload
