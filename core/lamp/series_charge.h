#pragma once
// Two capacitors charged through one resistance by a ramp, each with a load across it: what a series capacitor and the
// reservoir behind its bridge do while the bridge conducts.

#include <array>
#include <cmath>

#include "core/lamp/crossing.h"
#include "core/lamp/relaxation.h"

namespace lampload {

template <class T>
struct SeriesState {
  T series_v, reservoir_v;
};

/// x' = M x + c + b t for both voltages, solved as x0 + t phi1(M t) x'(0) + t^2 phi2(M t) b. The eigenvalues of M are
/// real and never positive, so that nothing grows and nothing cancels, whatever the time constants.
template <class T>
class SeriesCharge {
 public:
  struct Network {
    T conductance_s;        ///< of the resistance between
    T inverse_series_f;     ///< 1/F
    T inverse_reservoir_f;  ///< 1/F
    T leak;                 ///< 1/s, of the series capacitor through what lies across it
    T drain;                ///< 1/s, of the reservoir through its load
  };

  /// The matrix, to be shared by stretches that differ in what drives them.
  explicit SeriesCharge(const Network& network) : n_(network) {
    const T series = n_.conductance_s * n_.inverse_series_f;
    const T reservoir = n_.conductance_s * n_.inverse_reservoir_f;
    m11_ = -(series + n_.leak);
    m12_ = -series;
    m21_ = -reservoir;
    m22_ = -(reservoir + n_.drain);
    using std::sqrt;
    const T half = 0.5 * (m11_ - m22_);
    fast_ = 0.5 * (m11_ + m22_) - sqrt(half * half + m12_ * m21_);
    slow_ = (series * n_.drain + n_.leak * (reservoir + n_.drain)) / fast_;
  }

  /// drive_v: the source at t = 0, ramp its slope; drawn_a: the reservoir's load at no voltage.
  void start(const SeriesState<T>& x, const T& drive_v, const T& ramp, const T& drawn_a) {
    start_ = x;
    drive_ = drive_v;
    ramp_ = ramp;
    drawn_ = n_.inverse_reservoir_f * drawn_a;
    rate_ = rate_at(T(0.0), x);
    curve_ = {-m12_ * ramp, -m21_ * ramp};
  }

  SeriesState<T> at(const T& t) const {
    const Functions f(slow_ * t, fast_ * t);
    const SeriesState<T> first = f.apply(0, *this, t, rate_);
    const SeriesState<T> second = f.apply(1, *this, t, curve_);
    return {start_.series_v + t * (first.series_v + t * second.series_v),
            start_.reservoir_v + t * (first.reservoir_v + t * second.reservoir_v)};
  }
  [[nodiscard]] SeriesState<T> rate_at(const T& t, const SeriesState<T>& x) const {
    const T drive = drive_ + ramp_ * t;
    return {m11_ * x.series_v + m12_ * (x.reservoir_v - drive),
            m21_ * (x.series_v - drive) + m22_ * x.reservoir_v - drawn_};
  }
  T current_at(const T& t, const SeriesState<T>& x) const {
    return n_.conductance_s * (drive_ + ramp_ * t - x.series_v - x.reservoir_v);
  }
  /// Through the resistance, from 0 to t.
  T charge(const T& t) const {
    const Functions f(slow_ * t, fast_ * t);
    const SeriesState<T> first = f.apply(1, *this, t, rate_);
    const SeriesState<T> second = f.apply(2, *this, t, curve_);
    const T both = start_.series_v + start_.reservoir_v +
                   t * (first.series_v + first.reservoir_v + t * (second.series_v + second.reservoir_v));
    return n_.conductance_s * t * (drive_ + 0.5 * t * ramp_ - both);
  }
  [[nodiscard]] SeriesCharge<double> numbers() const {
    SeriesCharge<double> plain({value_of(n_.conductance_s), value_of(n_.inverse_series_f),
                                value_of(n_.inverse_reservoir_f), value_of(n_.leak), value_of(n_.drain)});
    plain.start({value_of(start_.series_v), value_of(start_.reservoir_v)}, value_of(drive_), value_of(ramp_),
                value_of(drawn_) / value_of(n_.inverse_reservoir_f));
    return plain;
  }

 private:
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
    SeriesState<T> apply(std::size_t k, const SeriesCharge& c, const T& t, const SeriesState<T>& x) const {
      const T share = t * divided[k];
      return {at_slow[k] * x.series_v + share * ((c.m11_ - c.slow_) * x.series_v + c.m12_ * x.reservoir_v),
              at_slow[k] * x.reservoir_v + share * (c.m21_ * x.series_v + (c.m22_ - c.slow_) * x.reservoir_v)};
    }
  };

  Network n_;
  T m11_, m12_, m21_, m22_, fast_, slow_;
  SeriesState<T> start_, rate_, curve_;
  T drive_, ramp_, drawn_;
};

}  // namespace lampload
