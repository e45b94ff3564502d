#include "core/lamp/tungsten.h"

namespace lampload::tungsten {
namespace {

using Knots = std::array<double, intervals + 1>;

// Resistivity [micro-ohm cm] at 300, 400 ... 3600 K: W. E. Forsythe and A. G. Worthing (1925), as reprinted in the CRC
// Handbook of Chemistry and Physics. H. A. Jones, Phys. Rev. 28, 202 (1926) agrees within 0.6 % (one slip apart).
constexpr Knots resistivity = {5.65,  8.06,  10.56, 13.23, 16.09, 19.0,  21.94, 24.93, 27.94, 30.98, 34.08, 37.19,
                               40.36, 43.55, 46.78, 50.05, 53.35, 56.67, 60.06, 63.48, 66.91, 70.39, 73.91, 77.49,
                               81.04, 84.7,  88.33, 92.04, 95.76, 99.54, 103.3, 107.2, 111.1, 115.0};

// Molar heat of solid tungsten [J/(mol K)], Shomate form: NIST-JANAF, M. W. Chase (1998), 298..1900 and 1900..3680 K.
constexpr double molar_heat(double temperature_k) {
  const double t = temperature_k / 1000.0;
  return temperature_k < 1900.0 ? 23.95930 + t * (2.639680 + t * (1.257750 - t * 0.254642)) - 0.048407 / (t * t)
                                : -22.57640 + t * (90.27980 + t * (-44.27150 + t * 7.176630)) - 24.09740 / (t * t);
}

constexpr Knots molar_heats() {
  Knots heats{};
  for (std::size_t i = 0; i < heats.size(); ++i)
    heats[i] = molar_heat(reference_k + interval_k * static_cast<double>(i));
  return heats;
}

// Cubics through the knots; the slope at a knot is that of the parabola through its neighbours.
constexpr std::array<Cubic, intervals> cubics(const Knots& y) {
  std::array<Cubic, intervals> pieces{};
  const auto slope = [&](std::size_t i) {
    if (i == 0) return (-3.0 * y[0] + 4.0 * y[1] - y[2]) / 2.0;
    if (i == intervals) return (3.0 * y[i] - 4.0 * y[i - 1] + y[i - 2]) / 2.0;
    return (y[i + 1] - y[i - 1]) / 2.0;
  };
  for (std::size_t i = 0; i < intervals; ++i) {
    const double rise = y[i + 1] - y[i];
    const double s0 = slope(i);
    const double s1 = slope(i + 1);
    pieces[i] = {y[i] / y[0], s0 / y[0] / interval_k, (3.0 * rise - 2.0 * s0 - s1) / y[0] / (interval_k * interval_k),
                 (s0 + s1 - 2.0 * rise) / y[0] / (interval_k * interval_k * interval_k)};
  }
  return pieces;
}

}  // namespace

constinit const std::array<Cubic, intervals> resistivity_ratio = cubics(resistivity);
constinit const std::array<Cubic, intervals> heat_ratio = cubics(molar_heats());

}  // namespace lampload::tungsten
