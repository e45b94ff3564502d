#include "fit/family_residuals.h"

namespace lampload {

std::unique_ptr<LampResiduals> make_residuals_of_third(std::size_t family, SharedDrives drives,
                                                       std::vector<DirectObservation> observations,
                                                       const std::vector<UsualValue>& usual) {
  return make_residuals_of<2>(family, std::move(drives), std::move(observations), usual);
}

}  // namespace lampload
