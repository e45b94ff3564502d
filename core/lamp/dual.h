#pragma once
// A value and its slope along one direction: the smallest forward derivative, for the channel's Newton steps.
// Members are named as in ceres::Jet so that value_of() serves both.

#include <cmath>
#include <type_traits>

namespace lampload {

struct Dual {
  double a = 0.0;  ///< value
  double v = 0.0;  ///< slope

  constexpr Dual() = default;
  constexpr Dual(double value) : a(value) {}  // NOLINT: numbers are constants
  constexpr Dual(double value, double slope) : a(value), v(slope) {}

  constexpr Dual& operator+=(Dual o) { return *this = Dual{a + o.a, v + o.v}; }
  constexpr Dual& operator-=(Dual o) { return *this = Dual{a - o.a, v - o.v}; }
  constexpr Dual& operator*=(Dual o) { return *this = Dual{a * o.a, a * o.v + v * o.a}; }
  constexpr Dual& operator/=(Dual o) { return *this = Dual{a / o.a, (v - a / o.a * o.v) / o.a}; }
  friend constexpr Dual operator+(Dual x, Dual y) { return x += y; }
  friend constexpr Dual operator-(Dual x, Dual y) { return x -= y; }
  friend constexpr Dual operator*(Dual x, Dual y) { return x *= y; }
  friend constexpr Dual operator/(Dual x, Dual y) { return x /= y; }
  friend constexpr Dual operator-(Dual x) { return {-x.a, -x.v}; }
  friend constexpr Dual operator+(Dual x) { return x; }
  friend constexpr bool operator<(Dual x, Dual y) { return x.a < y.a; }
  friend constexpr bool operator>(Dual x, Dual y) { return x.a > y.a; }
  friend constexpr bool operator<=(Dual x, Dual y) { return x.a <= y.a; }
  friend constexpr bool operator>=(Dual x, Dual y) { return x.a >= y.a; }
  friend constexpr bool operator==(Dual x, Dual y) { return x.a == y.a; }
};

inline Dual exp(Dual x) { return {std::exp(x.a), std::exp(x.a) * x.v}; }
inline Dual log(Dual x) { return {std::log(x.a), x.v / x.a}; }
inline Dual sqrt(Dual x) { return {std::sqrt(x.a), x.v / (2.0 * std::sqrt(x.a))}; }
inline Dual sin(Dual x) { return {std::sin(x.a), std::cos(x.a) * x.v}; }
inline Dual cos(Dual x) { return {std::cos(x.a), -std::sin(x.a) * x.v}; }
inline Dual sinh(Dual x) { return {std::sinh(x.a), std::cosh(x.a) * x.v}; }
inline Dual cosh(Dual x) { return {std::cosh(x.a), std::sinh(x.a) * x.v}; }
inline Dual abs(Dual x) { return x.a < 0.0 ? -x : x; }
inline Dual pow(Dual x, double n) { return {std::pow(x.a, n), n * std::pow(x.a, n - 1.0) * x.v}; }

/// The plain number inside a double, a Dual or a ceres::Jet.
template <class T>
constexpr double value_of(const T& x) {
  if constexpr (std::is_arithmetic_v<T>) {
    return static_cast<double>(x);
  } else {
    return x.a;
  }
}

}  // namespace lampload
