#pragma once
// Exponential functions that closed-form steps are made of, smooth through zero:
// phi1(z) = (e^z - 1)/z, phi2 = (phi1 - 1)/z, phi3 = (phi2 - 1/2)/z, phi4 = (phi3 - 1/6)/z.
// x' = -k x + a + b t from x0 has x(t) = x0 + t phi1(-k t) x'(0) + t^2 phi2(-k t) b,
// and its integral is x0 t + t^2 phi2(-k t) x'(0) + t^3 phi3(-k t) b.

#include <array>
#include <cmath>
#include <type_traits>

#include "core/lamp/dual.h"

namespace lampload {

template <class T>
struct Phi {
  T phi1, phi2, phi3, phi4;
};

/// Series of phi5 after its first term, over that term.
inline double tail(double z) {
  constexpr std::array<double, 10> inverse = {1.0 / 15, 1.0 / 14, 1.0 / 13, 1.0 / 12, 1.0 / 11,
                                              1.0 / 10, 1.0 / 9,  1.0 / 8,  1.0 / 7,  1.0 / 6};
  double sum = 0.0;
  for (const double one : inverse) sum = (1.0 + sum) * (z * one);
  return sum;
}

/// phi1..phi5 as numbers.
inline std::array<double, 5> phi_values(double z) {
  std::array<double, 5> phi{};
  if (std::abs(z) < 0.5) {
    // phi5 by its series, the others down from it
    const double sum =
        std::abs(z) < 0.05
            ? z * (1.0 / 6) *
                  (1.0 + z * (1.0 / 7) * (1.0 + z * (1.0 / 8) * (1.0 + z * (1.0 / 9) * (1.0 + z * (1.0 / 10)))))
            : tail(z);
    phi[4] = (1.0 + sum) * (1.0 / 120);
    phi[3] = 1.0 / 24.0 + z * phi[4];
    phi[2] = 1.0 / 6.0 + z * phi[3];
    phi[1] = 0.5 + z * phi[2];
    phi[0] = 1.0 + z * phi[1];
  } else {
    phi[0] = std::expm1(z) / z;
    phi[1] = (phi[0] - 1.0) / z;
    phi[2] = (phi[1] - 0.5) / z;
    phi[3] = (phi[2] - 1.0 / 6.0) / z;
    phi[4] = (phi[3] - 1.0 / 24.0) / z;
  }
  return phi;
}

/// phi1..phi4; the derivatives are attached by phi_k' = phi_k - k phi_(k+1).
template <class T>
Phi<T> phi(const T& z) {
  const auto p = phi_values(value_of(z));
  if constexpr (std::is_arithmetic_v<T>) {
    return {p[0], p[1], p[2], p[3]};
  } else {
    const T dz = z - value_of(z);
    return {p[0] + (p[0] - p[1]) * dz, p[1] + (p[1] - 2.0 * p[2]) * dz, p[2] + (p[2] - 3.0 * p[3]) * dz,
            p[3] + (p[3] - 4.0 * p[4]) * dz};
  }
}

}  // namespace lampload
