#pragma once
// Two capacitors charged through one resistance by a ramp, each with a load across it: what a series capacitor and the
// reservoir behind its bridge do while the bridge conducts.

#include <cmath>

#include "core/lamp/matrix_phi.h"

namespace lampload {

template <class T>
struct SeriesState {
  T series_v, reservoir_v;
};

/// x' = M x + c + b t for both voltages; see matrix_phi.h.
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
    using std::sqrt;
    const T m11 = -(series + n_.leak);
    const T m22 = -(reservoir + n_.drain);
    const T half = 0.5 * (m11 - m22);
    const T fast = 0.5 * (m11 + m22) - sqrt(half * half + series * reservoir);
    const T slow = (series * n_.drain + n_.leak * (reservoir + n_.drain)) / fast;
    matrix_ = {m11, -series, -reservoir, m22, slow, fast};
  }

  /// drive_v: the source at t = 0, ramp its slope; drawn_a: the reservoir's load at no voltage.
  void start(const SeriesState<T>& x, const T& drive_v, const T& ramp, const T& drawn_a) {
    start_ = x;
    drive_ = drive_v;
    ramp_ = ramp;
    drawn_ = n_.inverse_reservoir_f * drawn_a;
    rate_ = rate_at(T(0.0), x);
    curve_ = {-matrix_.m12 * ramp, -matrix_.m21 * ramp};
  }

  SeriesState<T> at(const T& t) const {
    const MatrixPhi<T> f(matrix_, t);
    const auto first = f.times(1, rate_.series_v, rate_.reservoir_v);
    const auto second = f.times(2, curve_.series_v, curve_.reservoir_v);
    return {start_.series_v + t * (first[0] + t * second[0]), start_.reservoir_v + t * (first[1] + t * second[1])};
  }
  [[nodiscard]] SeriesState<T> rate_at(const T& t, const SeriesState<T>& x) const {
    const T drive = drive_ + ramp_ * t;
    return {matrix_.m11 * x.series_v + matrix_.m12 * (x.reservoir_v - drive),
            matrix_.m21 * (x.series_v - drive) + matrix_.m22 * x.reservoir_v - drawn_};
  }
  T current_at(const T& t, const SeriesState<T>& x) const {
    return n_.conductance_s * (drive_ + ramp_ * t - x.series_v - x.reservoir_v);
  }
  /// Through the resistance, from 0 to t.
  T charge(const T& t) const {
    const MatrixPhi<T> f(matrix_, t);
    const auto first = f.times(2, rate_.series_v, rate_.reservoir_v);
    const auto second = f.times(3, curve_.series_v, curve_.reservoir_v);
    const T both = start_.series_v + start_.reservoir_v + t * (first[0] + first[1] + t * (second[0] + second[1]));
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
  Network n_;
  RealMatrix<T> matrix_;
  SeriesState<T> start_, rate_, curve_;
  T drive_, ramp_, drawn_;
};

}  // namespace lampload
