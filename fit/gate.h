#pragma once
// A converged solver is not a right answer. The gate decides whether a solution describes the lamp.

#include <string>

#include "fit/estimates.h"
#include "fit/lamp_residuals.h"

namespace lampload {

struct GateVerdict {
  bool accepted = false;
  std::string sentence;
};

/// Unexplained share of the rms current that one capture, and all together, may show. Common practice, no source: a
/// lamp count follows the peaks and the rms current about in proportion, and has margins of that size.
inline constexpr double misfit_limit_one = 0.20;
inline constexpr double misfit_limit_all = 0.12;

GateVerdict judge(const FamilyInfo& family, const std::vector<Estimate>& parameters, const std::vector<bool>& bound,
                  const std::vector<LampResiduals::Left>& left, double autocorrelation);

}  // namespace lampload
