#pragma once
// How sure a fit is (JCGM 100). The covariance of least squares holds for white residuals of known size. What a model
// misses repeats in every half cycle, so the scores (derivative times residual) are summed over all half cycles at
// equal phase first, and then over neighbouring phases as far as the residuals are correlated: a sandwich estimate that
// neither more cycles nor a faster digitiser can make falsely narrow. The scale errors of the instrument come on top as
// type B.

#include <cstddef>
#include <vector>

#include "fit/lamp_residuals.h"

namespace lampload {

struct UncertaintyOptions {
  double voltage_gain_uncertainty = 0.0;
  double current_gain_uncertainty = 0.0;
};

struct Uncertainty {
  std::vector<double> covariance;  ///< over the layout's lamp parameters only, row by row, in their coordinates
  /// The part of it that every piece measured with these instruments would share: their scale and time errors, what is
  /// known beforehand.
  std::vector<double> shared;
  std::vector<double> information;  ///< of least squares, over the free unknowns, row by row
  double autocorrelation = 0.0;     ///< of the residuals at lag one block
  double correlation_length = 1.0;  ///< in blocks
};

/// full: the solution; what is not free there counts as held.
Uncertainty uncertainty_at(const LampResiduals& residuals, const std::vector<double>& full,
                           const UncertaintyOptions& options);

/// How far residuals are from white ones.
struct Correlation {
  double lag_one = 0.0;
  double length = 1.0;      ///< blocks over which they stay correlated; white: 1
  double repetition = 1.0;  ///< half cycles that say the same, out of those recorded; white: 1
};
Correlation residual_correlation(const LampResiduals& residuals, const std::vector<double>& r);

}  // namespace lampload
