#pragma once
// Tungsten against temperature: resistivity and specific heat, each as a ratio to its value at 300 K.
// Tables and their sources are in tungsten.cpp. Between them cubics with a continuous slope; outside 300..3600 K the
// straight continuation, so that 200 K and the melting point (3695 K) are safe.

#include <algorithm>
#include <array>
#include <cstddef>

#include "core/lamp/dual.h"

namespace lampload {

namespace tungsten {

inline constexpr double reference_k = 300.0;
inline constexpr double interval_k = 100.0;
inline constexpr std::size_t intervals = 33;

/// One interval: value and slopes as a polynomial in the temperature above the interval's lower end.
using Cubic = std::array<double, 4>;
extern const std::array<Cubic, intervals> resistivity_ratio;
extern const std::array<Cubic, intervals> heat_ratio;

/// A smooth function of temperature at one temperature, with its first slope; curvature only as a number.
template <class T>
struct Local {
  T value;
  T slope;
};

struct Curve {
  double value, slope, curvature;
};

/// The cubic at a temperature, as numbers.
inline Curve look_up(const std::array<Cubic, intervals>& table, double t) {
  const double place = (t - reference_k) / interval_k;
  const auto index = static_cast<std::size_t>(std::clamp(place, 0.0, static_cast<double>(intervals) - 1.0));
  const Cubic& c = table[index];
  const double x = t - (reference_k + interval_k * static_cast<double>(index));
  const double inside = std::clamp(x, 0.0, interval_k);
  const double slope = c[1] + inside * (2.0 * c[2] + inside * 3.0 * c[3]);
  const double value = c[0] + inside * (c[1] + inside * (c[2] + inside * c[3])) + slope * (x - inside);
  return {value, slope, x == inside ? 2.0 * c[2] + 6.0 * c[3] * inside : 0.0};
}

/// The same with the derivatives of T, attached by the chain rule.
template <class T>
Local<T> evaluate(const std::array<Cubic, intervals>& table, const T& temperature_k) {
  const Curve c = look_up(table, value_of(temperature_k));
  const T displacement = temperature_k - value_of(temperature_k);
  return {c.value + c.slope * displacement, c.slope + c.curvature * displacement};
}

}  // namespace tungsten

/// Resistivity over resistivity at 300 K, and its slope by temperature [1/K].
template <class T>
tungsten::Local<T> tungsten_resistivity_ratio(const T& temperature_k) {
  return tungsten::evaluate(tungsten::resistivity_ratio, temperature_k);
}

/// Specific heat over specific heat at 300 K, and its slope by temperature [1/K].
template <class T>
tungsten::Local<T> tungsten_heat_ratio(const T& temperature_k) {
  return tungsten::evaluate(tungsten::heat_ratio, temperature_k);
}

}  // namespace lampload
