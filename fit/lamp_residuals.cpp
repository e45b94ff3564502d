#include "fit/lamp_residuals.h"

#include <utility>

#include "fit/residual_units.h"

namespace lampload {

std::unique_ptr<LampResiduals> make_residuals(std::size_t family, SharedDrives drives,
                                              std::vector<DirectObservation> observations,
                                              const std::vector<UsualValue>& usual) {
  static_assert(residual_units == 3);
  auto* const make = family % residual_units == 0   ? make_residuals_of_first
                     : family % residual_units == 1 ? make_residuals_of_second
                                                    : make_residuals_of_third;
  return make(family, std::move(drives), std::move(observations), usual);
}

}  // namespace lampload
