#pragma once
// The rectifier's network between two instants: nothing switches, the load is a straight line, the drive a ramp. Each
// stretch is solved in closed form.

#include <algorithm>
#include <array>
#include <cmath>

#include "core/lamp/crossing.h"
#include "core/lamp/relaxation.h"

namespace lampload {

template <class T>
struct ReservoirState {
  T reservoir_v, bridge_a;
};

/// A monitored quantity: constant + ramp t + reservoir * (reservoir voltage) + bridge * (bridge current).
struct Monitor {
  double constant, ramp, reservoir, bridge;
};

/// Reservoir voltage by a first-order law: bridge blocked, or conducting through a resistance alone.
template <class T>
struct Relaxation {
  T start;        ///< reservoir voltage at t = 0
  T rate;         ///< its slope there [V/s]
  T inverse_tau;  ///< [1/s]; negative where a constant-power load outruns everything
  T curve;        ///< slope of the rate due to the ramp [V/s^2]

  [[nodiscard]] ReservoirState<T> begin() const { return {start, T(0.0)}; }
  ReservoirState<T> at(const T& t) const {
    const auto p = phi(T(-inverse_tau * t));
    return {start + t * (p.phi1 * rate + p.phi2 * t * curve), T(0.0)};
  }
  [[nodiscard]] ReservoirState<T> rate_at(const T& t, const ReservoirState<T>& x) const {
    return {rate - inverse_tau * (x.reservoir_v - start) + curve * t, T(0.0)};
  }
  /// Reservoir voltage at t, and its integral from 0 to t.
  std::array<T, 2> at_and_integral(const T& t) const {
    const auto p = phi(T(-inverse_tau * t));
    return {start + t * (p.phi1 * rate + p.phi2 * t * curve), t * (start + t * (p.phi2 * rate + p.phi3 * t * curve))};
  }
  [[nodiscard]] Relaxation<double> numbers() const {
    return {value_of(start), value_of(rate), value_of(inverse_tau), value_of(curve)};
  }
};

/// Reservoir voltage and bridge current with a series inductance, while the bridge conducts:
/// x' = matrix x + constant + (0, ramp) t.
template <class T>
class ChokedCharge {
 public:
  struct Network {
    T m11, m12, m21, m22;  ///< matrix
    T constant_q, constant_i;
    T ramp_i;
  };

  ChokedCharge(const ReservoirState<T>& start, const Network& network) : start_(start), n_(network) {
    const T det = n_.m11 * n_.m22 - n_.m12 * n_.m21;
    // a constant-power load can make this vanish; keep away from zero
    const double scale = std::abs(value_of(n_.m12) * value_of(n_.m21));
    determinant_ = std::abs(value_of(det)) > 1e-6 * scale ? det : T(1e-6 * scale);
    const T inverse = 1.0 / determinant_;
    slope_ = {inverse * n_.m12 * n_.ramp_i, -inverse * n_.m11 * n_.ramp_i};
    const T q = slope_.reservoir_v - n_.constant_q;
    const T i = slope_.bridge_a - n_.constant_i;
    fixed_ = {inverse * (n_.m22 * q - n_.m12 * i), inverse * (n_.m11 * i - n_.m21 * q)};
    middle_ = 0.5 * (n_.m11 + n_.m22);
    const T half = 0.5 * (n_.m11 - n_.m22);
    spread_ = half * half + n_.m12 * n_.m21;
    size_ = std::abs(value_of(n_.m11)) + std::abs(value_of(n_.m12)) + std::abs(value_of(n_.m21)) +
            std::abs(value_of(n_.m22));
  }

  [[nodiscard]] ReservoirState<T> begin() const { return start_; }
  ReservoirState<T> at(const T& t) const {
    if (value_of(t) * size_ < 0.05) return by_series(t);
    const auto [even, odd] = kernel(t);
    const T q = start_.reservoir_v - fixed_.reservoir_v;
    const T i = start_.bridge_a - fixed_.bridge_a;
    return {fixed_.reservoir_v + slope_.reservoir_v * t + even * q + odd * ((n_.m11 - middle_) * q + n_.m12 * i),
            fixed_.bridge_a + slope_.bridge_a * t + even * i + odd * (n_.m21 * q + (n_.m22 - middle_) * i)};
  }
  [[nodiscard]] ReservoirState<T> rate_at(const T& t, const ReservoirState<T>& x) const {
    return {n_.m11 * x.reservoir_v + n_.m12 * x.bridge_a + n_.constant_q,
            n_.m21 * x.reservoir_v + n_.m22 * x.bridge_a + n_.constant_i + n_.ramp_i * t};
  }
  /// Integral of the bridge current from 0 to t, where the state is `end`: the equations themselves, solved for it.
  T charge(const T& t, const ReservoirState<T>& end) const {
    const T q = end.reservoir_v - start_.reservoir_v - n_.constant_q * t;
    const T i = end.bridge_a - start_.bridge_a - t * (n_.constant_i + 0.5 * t * n_.ramp_i);
    return (n_.m11 * i - n_.m21 * q) / determinant_;
  }
  /// Longest stretch out of `left` in which the current can be trusted to turn only once, and nothing overflows.
  [[nodiscard]] double longest_s(double left) const {
    const double middle = value_of(middle_);
    const double spread = value_of(spread_);
    if (spread < 0.0) return std::max(0.8 / std::sqrt(-spread), left / 100.0);
    const double growth = middle + std::sqrt(spread);
    return growth > 0.0 && (middle > 0.0 || value_of(determinant_) < 0.0) ? 0.5 / growth : left;
  }
  [[nodiscard]] ChokedCharge<double> numbers() const {
    return {{value_of(start_.reservoir_v), value_of(start_.bridge_a)},
            {value_of(n_.m11), value_of(n_.m12), value_of(n_.m21), value_of(n_.m22), value_of(n_.constant_q),
             value_of(n_.constant_i), value_of(n_.ramp_i)}};
  }

 private:
  /// Taylor series: the closed form loses digits where little changes.
  ReservoirState<T> by_series(const T& t) const {
    auto rate = rate_at(T(0.0), start_);
    ReservoirState<T> x{start_.reservoir_v + t * rate.reservoir_v, start_.bridge_a + t * rate.bridge_a};
    T factor = t;
    for (int k = 2; k <= 8; ++k) {
      factor *= t * (1.0 / k);
      rate = {n_.m11 * rate.reservoir_v + n_.m12 * rate.bridge_a,
              n_.m21 * rate.reservoir_v + n_.m22 * rate.bridge_a + (k == 2 ? n_.ramp_i : T(0.0))};
      x.reservoir_v += factor * rate.reservoir_v;
      x.bridge_a += factor * rate.bridge_a;
    }
    return x;
  }

  /// e^(middle t) cosh(sqrt(spread) t) and e^(middle t) sinh(sqrt(spread) t) / sqrt(spread).
  std::array<T, 2> kernel(const T& t) const {
    using std::cos, std::exp, std::sin, std::sqrt;
    const T z = spread_ * t * t;
    if (value_of(z) > 0.05) {
      const T w = sqrt(spread_);
      const T fast = value_of(middle_) < 0.0 ? middle_ - w : middle_ + w;
      const T slow = determinant_ / fast;  // no cancellation where one eigenvalue is far below the other
      const T e_fast = exp(fast * t);
      const T e_slow = exp(slow * t);
      return {0.5 * (e_slow + e_fast), (e_slow - e_fast) / (slow - fast)};
    }
    const T decay = exp(middle_ * t);
    if (value_of(z) < -0.05) {
      const T w = sqrt(-spread_);
      return {decay * cos(w * t), decay * sin(w * t) / w};
    }
    T even(1.0);  // 1 + z/2! + z^2/4! + ..., and 1 + z/3! + z^2/5! + ...
    T odd(1.0);
    for (double n = 12.0; n > 0.0; n -= 2.0) {
      even = 1.0 + z * even * (1.0 / (n * (n - 1.0)));
      odd = 1.0 + z * odd * (1.0 / (n * (n + 1.0)));
    }
    return {decay * even, decay * t * odd};
  }

  ReservoirState<T> start_;
  Network n_;
  T determinant_, middle_, spread_;  ///< of the matrix; half trace; squared half distance of the eigenvalues
  ReservoirState<T> fixed_, slope_;  ///< particular solution fixed + slope t
  double size_;                      ///< bound on the matrix
};

/// A monitored quantity along a stretch, with its slope; x: the state there.
template <class Stretch>
Slope observe(const Monitor& m, const Stretch& stretch, double t, const ReservoirState<double>& x) {
  const auto rate = stretch.rate_at(t, x);
  return {m.constant + m.ramp * t + m.reservoir * x.reservoir_v + m.bridge * x.bridge_a,
          m.ramp + m.reservoir * rate.reservoir_v + m.bridge * rate.bridge_a};
}
template <class Stretch>
Slope observe(const Monitor& m, const Stretch& stretch, double t) {
  return observe(m, stretch, t, stretch.at(t));
}

}  // namespace lampload
