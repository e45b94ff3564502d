#include "core/lamp/photometry.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>

namespace lampload {
namespace {

// V(lambda) every 5 nm from 380 to 780 nm, CIE 1924 (the y of CIE 1931); two public copies of the table agree.
constexpr double first_m = 380e-9;
constexpr double apart_m = 5e-9;
constexpr std::array<double, 81> efficiency = {
    0.000039, 0.000064, 0.000120, 0.000217, 0.000396, 0.000640, 0.001210, 0.002180, 0.004000, 0.007300, 0.011600,
    0.016840, 0.023000, 0.029800, 0.038000, 0.048000, 0.060000, 0.073900, 0.090980, 0.112600, 0.139020, 0.169300,
    0.208020, 0.258600, 0.323000, 0.407300, 0.503000, 0.608200, 0.710000, 0.793200, 0.862000, 0.914850, 0.954000,
    0.980300, 0.994950, 1.000000, 0.995000, 0.978600, 0.952000, 0.915400, 0.870000, 0.816300, 0.757000, 0.694900,
    0.631000, 0.566800, 0.503000, 0.441200, 0.381000, 0.321000, 0.265000, 0.217000, 0.175000, 0.138200, 0.107000,
    0.081600, 0.061000, 0.044580, 0.032000, 0.023200, 0.017000, 0.011920, 0.008210, 0.005723, 0.004102, 0.002929,
    0.002091, 0.001484, 0.001047, 0.000740, 0.000520, 0.000361, 0.000249, 0.000172, 0.000120, 0.000085, 0.000060,
    0.000042, 0.000030, 0.000021, 0.000015};

constexpr double lumen_per_watt = 683.0;
constexpr double first_radiation_wm2 = 1.191042972e-16;  // 2 h c^2, CODATA 2018
constexpr double second_radiation_mk = 1.438776877e-2;   // h c / k, CODATA 2018

double integrated(double temperature_k) {
  double sum = 0.0;
  for (std::size_t i = 0; i < efficiency.size(); ++i) {
    const double wavelength_m = first_m + apart_m * static_cast<double>(i);
    const double radiance = first_radiation_wm2 / (std::pow(wavelength_m, 5) *
                                                   std::expm1(second_radiation_mk / (wavelength_m * temperature_k)));
    sum += efficiency[i] * radiance * apart_m;
  }
  return lumen_per_watt * sum;
}

constexpr double coolest_k = 500.0;
constexpr double hottest_k = 4600.0;
constexpr std::size_t intervals = 400;

/// ln of the luminance, at equal steps of the inverse temperature: nearly a straight line.
struct LuminanceTable {
  double first = 1.0 / hottest_k;
  double apart = (1.0 / coolest_k - 1.0 / hottest_k) / intervals;
  std::array<double, intervals + 1> log_luminance{};

  LuminanceTable() {
    for (std::size_t i = 0; i <= intervals; ++i) {
      log_luminance[i] = std::log(integrated(1.0 / (first + apart * static_cast<double>(i))));
    }
  }
};

}  // namespace

double black_body_luminance(double temperature_k) {
  static const LuminanceTable table;
  if (temperature_k < coolest_k) return 0.0;
  const double place = std::clamp((1.0 / temperature_k - table.first) / table.apart, 0.0, 1.0 * intervals);
  const auto below = std::min(static_cast<std::size_t>(place), intervals - 1);
  return std::exp(
      std::lerp(table.log_luminance[below], table.log_luminance[below + 1], place - static_cast<double>(below)));
}

}  // namespace lampload
