#pragma once
// The functions phi1..phi3 (relaxation.h) of a 2x2 matrix with real eigenvalues that are not positive: closed-form
// steps of two coupled states, in which nothing grows and nothing cancels, whatever the time constants. x' = M x + c +
// b t from x0 has x(t) = x0 + t phi1(M t) x'(0) + t^2 phi2(M t) b, and its integral is x0 t + t^2 phi2(M t) x'(0) + t^3
// phi3(M t) b.

#include <array>
#include <cstddef>

#include "core/lamp/relaxation.h"

namespace lampload {

/// A matrix with its eigenvalues, which the caller knows without cancellation.
template <class T>
struct RealMatrix {
  T m11, m12, m21, m22;
  T slow, fast;  ///< slow >= fast

  [[nodiscard]] RealMatrix<double> numbers() const {
    return {value_of(m11), value_of(m12), value_of(m21), value_of(m22), value_of(slow), value_of(fast)};
  }
};

/// Of the matrix times t, as f(slow) + (f(slow) - f(fast)) / (slow - fast) (M - slow).
template <class T>
class MatrixPhi {
 public:
  MatrixPhi(const RealMatrix<T>& matrix, const T& t) : matrix_(matrix), t_(t) {
    const T slow = matrix.slow * t;
    const T fast = matrix.fast * t;
    const T apart = slow - fast;
    const auto s = phi(slow);
    at_slow_ = {s.phi1, s.phi2, s.phi3};
    if (value_of(apart) > 1e-3) {
      const auto f = phi(fast);
      const T inverse = 1.0 / apart;
      divided_ = {(s.phi1 - f.phi1) * inverse, (s.phi2 - f.phi2) * inverse, (s.phi3 - f.phi3) * inverse};
    } else {  // the slope between them
      const auto m = phi(T(0.5 * (slow + fast)));
      divided_ = {m.phi1 - m.phi2, m.phi2 - 2.0 * m.phi3, m.phi3 - 3.0 * m.phi4};
    }
  }

  /// phi_k times a vector, k = 1 to 3.
  std::array<T, 2> times(std::size_t k, const T& x, const T& y) const {
    const T share = t_ * divided_[k - 1];
    return {at_slow_[k - 1] * x + share * ((matrix_.m11 - matrix_.slow) * x + matrix_.m12 * y),
            at_slow_[k - 1] * y + share * (matrix_.m21 * x + (matrix_.m22 - matrix_.slow) * y)};
  }

 private:
  const RealMatrix<T>& matrix_;
  const T& t_;
  std::array<T, 3> at_slow_, divided_;
};

}  // namespace lampload
