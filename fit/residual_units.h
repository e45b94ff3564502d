#pragma once
// The families' residuals take minutes to compile: they are made in several units, family by family in turn.

#include <cstddef>
#include <memory>
#include <vector>

#include "fit/lamp_residuals.h"

namespace lampload {

inline constexpr std::size_t residual_units = 3;

using ResidualsMaker = std::unique_ptr<LampResiduals>(std::size_t family, SharedDrives drives,
                                                      std::vector<DirectObservation> observations,
                                                      const std::vector<UsualValue>& usual);
ResidualsMaker make_residuals_of_first;
ResidualsMaker make_residuals_of_second;
ResidualsMaker make_residuals_of_third;

}  // namespace lampload
