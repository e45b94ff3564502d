#include "fit/gate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace lampload {

double unexplained_share(const LampResiduals::Left& left) {
  const double square = std::max(0.0, left.residual_a2 - left.explained_a2);
  return std::sqrt(square / std::max(left.current_a2, 1e-300));
}

GateVerdict judge(const FamilyInfo& family, const std::vector<Estimate>& parameters, const std::vector<bool>& bound,
                  const std::vector<Remainder>& left, double autocorrelation) {
  double unexplained = 0.0;
  double current = 0.0;
  for (std::size_t c = 0; c < left.size(); ++c) {
    const double own = unexplained_share(left[c].left);
    const CurrentShape& shape = left[c].shape;
    const bool smooth = shape.crest_factor > 0.0 && shape.crest_factor < smooth_crest_factor;
    const double limit = smooth ? misfit_limit_smooth : misfit_limit_one;
    if (own > limit) {
      return {false,
              fmt::format(
                  "no family describes this lamp: {}, the nearest, leaves {:.0f} % of the current of capture {} "
                  "unexplained (at most {:.0f} % is accepted{})",
                  family.name, 100.0 * own, c + 1, 100.0 * limit, smooth ? " of a current without sharp pulses" : "")};
    }
    constexpr double sure = 4.0;  // standard errors
    const double quiet_limit = shape.cut ? quiet_power_limit_cut : quiet_power_limit;
    if (shape.quiet_power_share > std::max(quiet_limit, sure * shape.quiet_power_error)) {
      return {false, fmt::format("no family describes this lamp: {}, the nearest, draws next to nothing while {:.0f} % "
                                 "of the power of capture {} flows (at most {:.0f} % is accepted), as if another load "
                                 "were beside it",
                                 family.name, 100.0 * shape.quiet_power_share, c + 1, 100.0 * quiet_limit)};
    }
    unexplained += own * own * left[c].left.current_a2;
    current += left[c].left.current_a2;
  }
  const double share = current > 0.0 ? std::sqrt(unexplained / current) : 1.0;
  if (share > misfit_limit_all) {
    return {false,
            fmt::format("no family describes this lamp: {}, the nearest, leaves {:.0f} % of the current unexplained "
                        "(at most {:.0f} % is accepted)",
                        family.name, 100.0 * share, 100.0 * misfit_limit_all)};
  }
  for (std::size_t j = 0; j < parameters.size(); ++j) {
    if (bound[j] && family.parameters[j].logarithmic && !family.parameters[j].optional) {
      return {
          false,
          fmt::format("no family describes this lamp: {}, the nearest, needs {} = {:g} {}, the end of what is physical",
                      family.name, parameters[j].name, parameters[j].value, parameters[j].unit)};
    }
  }
  const char* structure =
      autocorrelation > 0.5 ? "; what is left over has structure, and the intervals are widened for it" : "";
  return {true,
          fmt::format("{} describes the lamp; {:.1f} % of the current is beyond what the instrument's noise explains{}",
                      family.name, 100.0 * share, structure)};
}

}  // namespace lampload
