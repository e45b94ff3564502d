#pragma once
// A winding, its leakage and a loaded core on a ramp of voltage, while the core stays on one side of its knees.

#include <cmath>

#include "core/lamp/crossing.h"
#include "core/lamp/matrix_phi.h"

namespace lampload {

template <class T>
struct CoreState {
  T flux_vs, current_a;
};

/// x' = M x + c + b t for flux linkage and current; see matrix_phi.h.
template <class T>
class CoreStretch {
 public:
  struct Network {
    T resistance_ohm;  ///< of the winding
    T per_leakage_h;   ///< 1/H
    T per_core_h;      ///< 1/H: magnetising current = offset_a + flux per_core_h
    T secondary_ohm;
    T offset_a;
  };

  /// voltage_v at t = 0, ramp its slope.
  CoreStretch(const CoreState<T>& start, const Network& network, const T& voltage_v, const T& ramp)
      : start_(start), ramp_(ramp * network.per_leakage_h) {
    using std::sqrt;
    const T m11 = -network.secondary_ohm * network.per_core_h;
    const T m21 = network.secondary_ohm * network.per_core_h * network.per_leakage_h;
    const T m22 = -(network.resistance_ohm + network.secondary_ohm) * network.per_leakage_h;
    const T half = 0.5 * (m11 - m22);
    const T fast = 0.5 * (m11 + m22) - sqrt(half * half + network.secondary_ohm * m21);
    const T slow = -m11 * network.resistance_ohm * network.per_leakage_h / fast;
    matrix_ = {m11, network.secondary_ohm, m21, m22, slow, fast};
    const T secondary_v =
        network.secondary_ohm * (start.current_a - network.offset_a - network.per_core_h * start.flux_vs);
    rate_ = {secondary_v, (voltage_v - network.resistance_ohm * start.current_a - secondary_v) * network.per_leakage_h};
  }

  CoreState<T> at(const T& t) const {
    const MatrixPhi<T> f(matrix_, t);
    const auto first = f.times(1, rate_.flux_vs, rate_.current_a);
    const auto second = f.times(2, T(0.0), ramp_);
    return {start_.flux_vs + t * (first[0] + t * second[0]), start_.current_a + t * (first[1] + t * second[1])};
  }
  /// Integral of the current from 0 to t.
  T charge(const T& t) const {
    const MatrixPhi<T> f(matrix_, t);
    const T first = f.times(2, rate_.flux_vs, rate_.current_a)[1];
    const T second = f.times(3, T(0.0), ramp_)[1];
    return t * (start_.current_a + t * (first + t * second));
  }
  /// Flux linkage and its slope.
  [[nodiscard]] Slope flux_at(double t) const {
    const auto x = at(T(t));
    return {value_of(x.flux_vs), value_of(rate_.flux_vs + matrix_.m11 * (x.flux_vs - start_.flux_vs) +
                                          matrix_.m12 * (x.current_a - start_.current_a))};
  }
  [[nodiscard]] CoreStretch<double> numbers() const {
    CoreStretch<double> plain;
    plain.start_ = {value_of(start_.flux_vs), value_of(start_.current_a)};
    plain.rate_ = {value_of(rate_.flux_vs), value_of(rate_.current_a)};
    plain.matrix_ = matrix_.numbers(), plain.ramp_ = value_of(ramp_);
    return plain;
  }

 private:
  template <class>
  friend class CoreStretch;
  CoreStretch() = default;

  CoreState<T> start_, rate_;
  RealMatrix<T> matrix_;
  T ramp_;
};

}  // namespace lampload
