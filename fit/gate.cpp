#include "fit/gate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace lampload {

GateVerdict judge(const FamilyInfo& family, const std::vector<Estimate>& parameters, const std::vector<bool>& bound,
                  const std::vector<Misfit>& misfits, double autocorrelation) {
  double unexplained = 0.0;
  double current = 0.0;
  for (std::size_t c = 0; c < misfits.size(); ++c) {
    const Misfit& one = misfits[c];
    const double square = std::max(0.0, one.residual_a * one.residual_a - one.noise_a * one.noise_a);
    if (std::sqrt(square) > misfit_limit_one * one.current_a) {
      return {false,
              fmt::format("no family describes this lamp: {}, the nearest, leaves {:.0f} % of the current of capture "
                          "{} unexplained "
                          "(at most {:.0f} % is accepted)",
                          family.name, 100.0 * std::sqrt(square) / one.current_a, c + 1, 100.0 * misfit_limit_one)};
    }
    unexplained += square;
    current += one.current_a * one.current_a;
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
