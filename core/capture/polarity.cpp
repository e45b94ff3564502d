#include "core/capture/polarity.h"

#include <algorithm>
#include <cmath>

namespace lampload {

std::optional<double> one_sign(std::span<const double> voltage_v) {
  constexpr double kAtZero = 0.1;   // of the largest magnitude
  constexpr double kSpikes = 0.03;  // of the time spent on the other side
  if (voltage_v.empty()) return std::nullopt;
  const auto [low, high] = std::minmax_element(voltage_v.begin(), voltage_v.end());
  const double smaller = std::min(std::abs(*low), std::abs(*high));
  const double larger = std::max(std::abs(*low), std::abs(*high));
  if (!(larger > 0.0)) return std::nullopt;
  const double side = std::abs(*high) >= std::abs(*low) ? 1.0 : -1.0;
  if (smaller < kAtZero * larger || *low * *high > 0.0) return side;
  const auto beyond = [&](double sign) {
    return static_cast<double>(
        std::count_if(voltage_v.begin(), voltage_v.end(), [&](double v) { return sign * v > kAtZero * larger; }));
  };
  const double above = beyond(1.0);
  const double below = beyond(-1.0);
  if (std::min(above, below) >= kSpikes * std::max(above, below)) return std::nullopt;
  return above > below ? 1.0 : -1.0;
}

}  // namespace lampload
