#pragma once
// A converged solver is not a right answer. The gate decides whether a solution describes the lamp.

#include <string>

#include "fit/estimates.h"

namespace lampload {

/// What a solution leaves unexplained, capture by capture.
struct Misfit {
  double residual_a = 0.0;  ///< rms over the capture
  double noise_a = 0.0;     ///< rms that the instrument explains
  double current_a = 0.0;   ///< rms of the measured current without offset
};

struct GateVerdict {
  bool accepted = false;
  std::string sentence;
};

/// Unexplained share of the rms current that one capture, and all together, may show. Common practice, no source: a
/// lamp count follows the peaks and the rms current about in proportion, and has margins of that size.
inline constexpr double misfit_limit_one = 0.20;
inline constexpr double misfit_limit_all = 0.12;

GateVerdict judge(const FamilyInfo& family, const std::vector<Estimate>& parameters, const std::vector<bool>& bound,
                  const std::vector<Misfit>& misfits, double autocorrelation);

}  // namespace lampload
