#include "cli/receive_differences.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace lampload {

void Differences::compare(const std::string& key, const std::string& what, double stated, double found,
                          const std::string& unit, Tolerance tolerance, double floor) {
  const double apart = std::abs(stated - found);
  const double share = apart / std::max({std::abs(stated), std::abs(found), 1e-300});
  if (!std::isfinite(found) || (share > tolerance.refused && apart > floor)) {
    refuse(key, what, fmt::format("{:.4g} {}", stated, unit), fmt::format("{:.4g} {}", found, unit));
  }
  if (share > tolerance.told && apart > floor) tell(what, stated, found, unit);
}

void Differences::within(const std::string& key, const std::string& what, double stated, double least, double most,
                         const std::string& unit, double share, double floor) {
  if (std::isfinite(least) && std::isfinite(most) && stated >= least / share - floor && stated <= most * share + floor)
    return;
  refuse(key, what, fmt::format("{:.4g} {}", stated, unit), fmt::format("{:.4g} to {:.4g} {}", least, most, unit));
}

void Differences::refuse(const std::string& key, const std::string& what, const std::string& stated,
                         const std::string& found) const {
  throw Error(ErrorCode::input_refused,
              fmt::format("'{}' contradicts itself: {} is {} in the file, but {} by its own figures", lamp_.lamp.name,
                          what, stated, found),
              Place{.key = place_ + "." + key},
              "Ask for the file again where it comes from, or measure the lamp yourself");
}

}  // namespace lampload
