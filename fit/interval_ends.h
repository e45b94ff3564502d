#pragma once
// The ends of intervals, tried out. A covariance knows the curvature at the solution alone: where the model stops
// depending on a parameter a little further on (a limit that is not reached any more), it promises too much.

#include <vector>

#include "fit/lamp_residuals.h"
#include "fit/uncertainty.h"

namespace lampload {

/// Of one lamp parameter, in its coordinate.
struct IntervalEnds {
  double lower = 0.0;
  double upper = 0.0;
};

/// 95 % intervals over the layout's lamp parameters, those that are held with no width. At twice the distance of an end
/// the captures should object four times as much as there; where they do not even as much, the end moves out, in
/// doublings, for as long as they do not. `full` has to be the captures' own solution, `uncertainty` that of it. Leaves
/// the residuals as they were.
std::vector<IntervalEnds> tried_ends(LampResiduals& residuals, const std::vector<double>& full,
                                     const Uncertainty& uncertainty);

}  // namespace lampload
