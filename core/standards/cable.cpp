#include "core/standards/cable.h"

#include <fmt/format.h>

#include <array>
#include <cmath>

#include "core/error.h"

namespace lampload {
namespace {

struct Conductor {
  double mm2;
  double ohm_per_km;
};
constexpr std::array<Conductor, 4> conductors = {{{1.0, 18.1}, {1.5, 12.1}, {2.5, 7.41}, {4.0, 4.61}}};
constexpr double copper_per_k = 0.00393;
constexpr double loop_h_per_m = 0.65e-6;

}  // namespace

double conductor_resistance_ohm_per_m(double conductor_mm2) {
  if (!(conductor_mm2 > 0.0)) {
    throw Error(ErrorCode::input_refused, fmt::format("a cable conductor of {:g} mm2 is impossible", conductor_mm2),
                Place{.key = "cable.conductor_mm2"}, "Give the cross-section of one conductor, such as 1.5");
  }
  for (const Conductor& conductor : conductors) {
    if (std::abs(conductor.mm2 - conductor_mm2) < 1e-6) return conductor.ohm_per_km * 1e-3;
  }
  return conductors[0].ohm_per_km * 1e-3 * conductors[0].mm2 / conductor_mm2;
}

CableImpedance cable_impedance(double length_m, double conductor_mm2, double conductor_c) {
  const double warm = 1.0 + copper_per_k * (conductor_c - 20.0);
  return {2.0 * length_m * conductor_resistance_ohm_per_m(conductor_mm2) * warm, length_m * loop_h_per_m};
}

}  // namespace lampload
