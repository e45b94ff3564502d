#pragma once
// A winding, its leakage and a loaded core on a ramp of voltage, while the core stays on one side of its knees.

#include <array>
#include <cmath>

#include "core/lamp/crossing.h"
#include "core/lamp/relaxation.h"

namespace lampload {

template <class T>
struct CoreState {
  T flux_vs, current_a;
};

/// x' = M x + c + b t for flux linkage and current, solved as x0 + t phi1(M t) x'(0) + t^2 phi2(M t) b. The eigenvalues
/// of M are real and negative, so that nothing grows and nothing cancels, whatever the time constants.
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
      : start_(start),
        m11_(-network.secondary_ohm * network.per_core_h),
        m12_(network.secondary_ohm),
        m21_(network.secondary_ohm * network.per_core_h * network.per_leakage_h),
        m22_(-(network.resistance_ohm + network.secondary_ohm) * network.per_leakage_h),
        ramp_(ramp * network.per_leakage_h) {
    using std::sqrt;
    const T half = 0.5 * (m11_ - m22_);
    fast_ = 0.5 * (m11_ + m22_) - sqrt(half * half + m12_ * m21_);
    slow_ = -m11_ * network.resistance_ohm * network.per_leakage_h / fast_;
    const T secondary_v =
        network.secondary_ohm * (start.current_a - network.offset_a - network.per_core_h * start.flux_vs);
    rate_ = {secondary_v, (voltage_v - network.resistance_ohm * start.current_a - secondary_v) * network.per_leakage_h};
  }

  CoreState<T> at(const T& t) const {
    const Functions f(slow_ * t, fast_ * t);
    const CoreState<T> first = f.apply(0, *this, t, rate_);
    const CoreState<T> second = f.apply(1, *this, t, {T(0.0), ramp_});
    return {start_.flux_vs + t * (first.flux_vs + t * second.flux_vs),
            start_.current_a + t * (first.current_a + t * second.current_a)};
  }
  /// Integral of the current from 0 to t.
  T charge(const T& t) const {
    const Functions f(slow_ * t, fast_ * t);
    const T first = f.apply(1, *this, t, rate_).current_a;
    const T second = f.apply(2, *this, t, {T(0.0), ramp_}).current_a;
    return t * (start_.current_a + t * (first + t * second));
  }
  /// Flux linkage and its slope.
  [[nodiscard]] Slope flux_at(double t) const {
    const auto x = at(T(t));
    return {value_of(x.flux_vs),
            value_of(rate_.flux_vs + m11_ * (x.flux_vs - start_.flux_vs) + m12_ * (x.current_a - start_.current_a))};
  }
  [[nodiscard]] CoreStretch<double> numbers() const {
    CoreStretch<double> plain;
    plain.start_ = {value_of(start_.flux_vs), value_of(start_.current_a)};
    plain.rate_ = {value_of(rate_.flux_vs), value_of(rate_.current_a)};
    plain.m11_ = value_of(m11_), plain.m12_ = value_of(m12_), plain.m21_ = value_of(m21_), plain.m22_ = value_of(m22_);
    plain.fast_ = value_of(fast_), plain.slow_ = value_of(slow_), plain.ramp_ = value_of(ramp_);
    return plain;
  }

 private:
  template <class>
  friend class CoreStretch;
  CoreStretch() = default;

  /// phi1..phi3 of the matrix, as f(slow) + (f(slow) - f(fast)) / (slow - fast) (M - slow).
  struct Functions {
    std::array<T, 3> at_slow, divided;

    Functions(const T& slow, const T& fast) {
      const T apart = slow - fast;
      const auto s = phi(slow);
      at_slow = {s.phi1, s.phi2, s.phi3};
      if (value_of(apart) > 1e-3) {
        const auto f = phi(fast);
        const T inverse = 1.0 / apart;
        divided = {(s.phi1 - f.phi1) * inverse, (s.phi2 - f.phi2) * inverse, (s.phi3 - f.phi3) * inverse};
      } else {  // the slope between them
        const auto m = phi(T(0.5 * (slow + fast)));
        divided = {m.phi1 - m.phi2, m.phi2 - 2.0 * m.phi3, m.phi3 - 3.0 * m.phi4};
      }
    }
    CoreState<T> apply(std::size_t k, const CoreStretch& c, const T& t, const CoreState<T>& x) const {
      const T share = t * divided[k];
      return {at_slow[k] * x.flux_vs + share * ((c.m11_ - c.slow_) * x.flux_vs + c.m12_ * x.current_a),
              at_slow[k] * x.current_a + share * (c.m21_ * x.flux_vs + (c.m22_ - c.slow_) * x.current_a)};
    }
  };

  CoreState<T> start_, rate_;
  T m11_, m12_, m21_, m22_, fast_, slow_, ramp_;
};

}  // namespace lampload
