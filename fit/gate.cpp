#include "fit/gate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace lampload {

GateVerdict judge(const FamilyInfo& family, const std::vector<Estimate>& parameters, const std::vector<bool>& bound,
                  const std::vector<LampResiduals::Left>& left, double autocorrelation) {
  double unexplained = 0.0;
  double current = 0.0;
  for (std::size_t c = 0; c < left.size(); ++c) {
    const double square = std::max(0.0, left[c].residual_a2 - left[c].explained_a2);
    const double own = std::sqrt(square / std::max(left[c].current_a2, 1e-300));
    if (own > misfit_limit_one) {
      return {false, fmt::format(
                         "no family describes this lamp: {}, the nearest, leaves {:.0f} % of the current of capture {} "
                         "unexplained (at most {:.0f} % is accepted)",
                         family.name, 100.0 * own, c + 1, 100.0 * misfit_limit_one)};
    }
    unexplained += square;
    current += left[c].current_a2;
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
