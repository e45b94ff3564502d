#pragma once
// A series capacitor, a bridge and a reservoir behind it, stepped from instant to instant: which way the bridge
// conducts, for how long, and what flows meanwhile.

#include <algorithm>
#include <array>
#include <cmath>
#include <span>

#include "core/lamp/crossing.h"
#include "core/lamp/load_law.h"
#include "core/lamp/one_port.h"
#include "core/lamp/reservoir.h"
#include "core/lamp/series_charge.h"

namespace lampload {

/// The model behind CapacitiveDropper (capacitive_dropper.h has the circuit and the order of the parameters). State:
/// voltages of the series capacitor and of the reservoir. Keeps what depends on the step length from one step to the
/// next: one thread a model.
template <class T>
class DropperModel {
 public:
  explicit DropperModel(std::span<const T> p)
      : inverse_series_f_(1.0 / p[0]),
        conductance_(1.0 / p[1]),
        leak_(1.0 / (p[2] * p[0])),
        drop_(p[3]),
        inverse_reservoir_f_(1.0 / p[4]),
        load_(p.subspan(5)),
        threshold_v_(load_.threshold_v()) {}

  Step<T> advance(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s) const {
    const double gap = value_of(v0) - value_of(state[0]);
    const double way = gap < 0.0 ? -1.0 : 1.0;
    const bool conducting = way * gap - value_of(drop_) > value_of(state[1]);
    Step<T> step{T(0.0), T(0.0)};
    const bool done = conducting ? stays_fed(state, v0, v1, dt_s, way, step) : stays_blocked(state, v0, v1, dt_s);
    return done ? step : piece_by_piece(state, v0, v1, dt_s, conducting ? way : 0.0);
  }

 private:
  // Enough for a string whose curve is followed by tangents through a cold start within one step.
  static constexpr int most_stretches = 200;

  bool above_threshold(const T& reservoir_v) const { return value_of(reservoir_v) > value_of(threshold_v_); }
  Tangent<T> load_at(const T& reservoir_v, bool above) const {
    return above ? load_.above(reservoir_v, T(0.0)) : load_.below();
  }

  SeriesCharge<T> fed_network(const Tangent<T>& load) const {
    return SeriesCharge<T>(
        {conductance_, inverse_series_f_, inverse_reservoir_f_, leak_, load.slope_s * inverse_reservoir_f_});
  }

  // --- the usual step: nothing switches ------------------------------------------------------------------------------

  /// What one input of a step makes of its outcome.
  struct Share {
    T series_v, reservoir_v, charge_c;
  };
  /// A step of fixed length, linear in its inputs, with a load of fixed slope.
  struct LinearStep {
    double dt_s = 0.0;
    T load_slope_s;
    // while the bridge conducts: by the reservoir voltage, the series capacitor's, the drive at both ends and the
    // load's constant part
    Share reservoir, series, drive0, drive1, load;
    // while it blocks
    T kept_series, kept_reservoir, taken_by_load;
  };

  /// The linear step for a load near `tangent`, made anew where length or slope have changed.
  const LinearStep& linear_step(const Tangent<T>& tangent, double dt_s, LinearStep& step) const {
    // A load of another slope is corrected by its constant part; beyond this share of the reservoir's change no more.
    constexpr double most_off = 0.02;
    const double off = value_of(tangent.slope_s) - value_of(step.load_slope_s);
    if (step.dt_s == dt_s && std::abs(off) * value_of(inverse_reservoir_f_) * dt_s < most_off) return step;
    step.dt_s = dt_s;
    step.load_slope_s = tangent.slope_s;
    const T length(dt_s);
    SeriesCharge<T> stretch = fed_network(tangent);
    const auto share = [&](const SeriesState<T>& start, const T& drive, const T& ramp, const T& drawn_a) {
      stretch.start(start, drive, ramp, drawn_a);
      const SeriesState<T> end = stretch.at(length);
      return Share{end.series_v, end.reservoir_v, stretch.charge(length)};
    };
    const T zero(0.0);
    step.series = share({T(1.0), zero}, zero, zero, zero);
    step.reservoir = share({zero, T(1.0)}, zero, zero, zero);
    step.drive0 = share({zero, zero}, T(1.0), T(-1.0 / dt_s), zero);
    step.drive1 = share({zero, zero}, zero, T(1.0 / dt_s), zero);
    step.load = share({zero, zero}, zero, zero, T(1.0));
    step.kept_series = 1.0 - dt_s * leak_ * phi(T(-dt_s * leak_)).phi1;
    const T drain = tangent.slope_s * inverse_reservoir_f_;
    const T through = dt_s * phi(T(-dt_s * drain)).phi1;
    step.kept_reservoir = 1.0 - through * drain;
    step.taken_by_load = through * inverse_reservoir_f_;
    return step;
  }

  /// The load's constant part beside the linear step's slope, in the middle of a step fed by current_a.
  T beside_slope(const Tangent<T>& load, const LinearStep& step, const T& reservoir_v, const T& current_a) const {
    if constexpr (!LedStringLoad::curved) {
      return load.offset_a;
    } else {
      const T rate = inverse_reservoir_f_ * (current_a - load.offset_a - load.slope_s * reservoir_v);
      return load.offset_a + (load.slope_s - step.load_slope_s) * (reservoir_v + (0.5 * step.dt_s) * rate);
    }
  }

  /// The bridge conducts from end to end. False, with nothing done, where that is not certain.
  bool stays_fed(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s, double way, Step<T>& out) const {
    const bool above = above_threshold(state[1]);
    const Tangent<T> load = load_at(state[1], above);
    const LinearStep& step = linear_step(load, dt_s, steps_[above ? 1 : 0]);
    const T drive0 = way * v0 - drop_;
    const T drive1 = way * v1 - drop_;
    const T series_v = way * state[0];
    const T current_a = conductance_ * (drive0 - series_v - state[1]);
    const T offset_a = beside_slope(load, step, state[1], current_a);

    const auto number = [&](T Share::*output) {
      return value_of(step.reservoir.*output) * value_of(state[1]) +
             value_of(step.series.*output) * value_of(series_v) + value_of(step.drive0.*output) * value_of(drive0) +
             value_of(step.drive1.*output) * value_of(drive1) + value_of(step.load.*output) * value_of(offset_a);
    };
    const double end_v = number(&Share::reservoir_v);
    const double end_a = value_of(conductance_) * (value_of(drive1) - number(&Share::series_v) - end_v);
    if (!(end_a > 0.0) || (end_v > value_of(threshold_v_)) != above) return false;
    // current that falls first and rises at the end may have been through zero
    const double ramp = (value_of(drive1) - value_of(drive0)) / dt_s;
    const auto change = [&](double drive, double reservoir_v, double bridge_a) {
      const double left_v = drive - reservoir_v - bridge_a / value_of(conductance_);
      const double drawn_a = value_of(offset_a) + value_of(step.load_slope_s) * reservoir_v;
      return ramp - bridge_a * value_of(inverse_series_f_) + value_of(leak_) * left_v -
             (bridge_a - drawn_a) * value_of(inverse_reservoir_f_);
    };
    if (change(value_of(drive0), value_of(state[1]), value_of(current_a)) < 0.0 &&
        change(value_of(drive1), end_v, end_a) > 0.0) {
      return false;
    }

    const auto sum = [&](T Share::*output) -> T {
      return step.reservoir.*output * state[1] + step.series.*output * series_v + step.drive0.*output * drive0 +
             step.drive1.*output * drive1 + step.load.*output * offset_a;
    };
    const T series_end_v = sum(&Share::series_v);
    const T reservoir_end_v = sum(&Share::reservoir_v);
    out = {way * conductance_ * (drive1 - series_end_v - reservoir_end_v), way * sum(&Share::charge_c)};
    state[0] = way * series_end_v;
    state[1] = reservoir_end_v;
    return true;
  }

  /// As stays_fed(), for a bridge that blocks from end to end.
  bool stays_blocked(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s) const {
    const bool above = above_threshold(state[1]);
    const Tangent<T> load = load_at(state[1], above);
    const LinearStep& step = linear_step(load, dt_s, steps_[above ? 1 : 0]);
    const T offset_a = beside_slope(load, step, state[1], T(0.0));
    const double series_v = value_of(state[0]);
    const double series_end = value_of(step.kept_series) * series_v;
    const double reservoir_v = value_of(state[1]);
    const double reservoir_end =
        value_of(step.kept_reservoir) * reservoir_v - value_of(step.taken_by_load) * value_of(offset_a);
    if ((reservoir_end > value_of(threshold_v_)) != above) return false;
    const double ramp = (value_of(v1) - value_of(v0)) / dt_s;
    const auto drawn = [&](double v) {
      return (value_of(offset_a) + value_of(step.load_slope_s) * v) * value_of(inverse_reservoir_f_);
    };
    for (const double way : {1.0, -1.0}) {
      const double before = way * (value_of(v0) - series_v) - value_of(drop_) - reservoir_v;
      const double after = way * (value_of(v1) - series_end) - value_of(drop_) - reservoir_end;
      if (!(before < 0.0 && after < 0.0)) return false;
      const double rise0 = way * (ramp + value_of(leak_) * series_v) + drawn(reservoir_v);
      const double rise1 = way * (ramp + value_of(leak_) * series_end) + drawn(reservoir_end);
      if (rise0 > 0.0 && rise1 < 0.0) return false;
    }
    state[0] = step.kept_series * state[0];
    state[1] = step.kept_reservoir * state[1] - step.taken_by_load * offset_a;
    return true;
  }

  // --- a step in which something switches ----------------------------------------------------------------------------

  /// Where a stretch ends, and why.
  enum class Why { time, bridge, threshold };
  struct Cut {
    T time;
    Why why;
    double way;  ///< the bridge's direction from there on; 0: it blocks
  };

  /// way: the direction in which the bridge conducts; 0: it blocks.
  Step<T> piece_by_piece(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s, double way) const {
    const T ramp = (v1 - v0) / dt_s;
    T height = v0;
    T left(dt_s);
    Step<T> out{T(0.0), T(0.0)};
    bool above = above_threshold(state[1]);
    bool armed = true;  // see rising_crossing()
    for (int i = 0; i < most_stretches && value_of(left) > 1e-12 * dt_s; ++i) {
      const Cut cut = way == 0.0 ? blocked(state, height, ramp, left, above, armed)
                                 : fed(state, height, ramp, left, above, armed, way, out);
      if (cut.why == Why::threshold) above = !above;
      way = cut.way;
      if (way == 0.0) out.current_a = T(0.0);
      armed = cut.why == Why::time;
      height += ramp * cut.time;
      left -= cut.time;
    }
    return out;
  }

  /// How far a curved load's tangent holds. end_v(t): reservoir voltage.
  template <class EndV>
  double horizon_of(const Tangent<T>& load, const T& left, bool above, const EndV& end_v) const {
    double horizon = value_of(left);
    if constexpr (LedStringLoad::curved) {
      constexpr double most_wrong = 1e-5;  // of the reservoir voltage
      for (int i = 0; above && i < 20; ++i) {
        const double end = end_v(horizon);
        const Tangent<T> there = load_.above(T(end), T(0.0));
        const double wrong_a = value_of(there.offset_a) - value_of(load.offset_a) +
                               (value_of(there.slope_s) - value_of(load.slope_s)) * end;
        if (std::abs(wrong_a) * horizon * value_of(inverse_reservoir_f_) < most_wrong * (1.0 + std::abs(end))) break;
        horizon *= 0.5;
      }
    }
    return horizon;
  }

  /// The bridge blocks: each capacitor is alone.
  Cut blocked(std::array<T, 2>& state, const T& height, const T& ramp, const T& left, bool above, bool armed) const {
    const Tangent<T> load = load_at(state[1], above);
    const Relaxation<T> reservoir{state[1], -(load.offset_a + load.slope_s * state[1]) * inverse_reservoir_f_,
                                  load.slope_s * inverse_reservoir_f_, T(0.0)};
    const Relaxation<T> series{state[0], -leak_ * state[0], leak_, T(0.0)};
    const auto reservoir_numbers = reservoir.numbers();
    const auto series_numbers = series.numbers();
    double horizon = horizon_of(load, left, above, [&](double t) { return reservoir_numbers.at(t).reservoir_v; });
    Cut out{horizon < value_of(left) ? T(horizon) : left, Why::time, 0.0};
    const auto look = [&](const auto& f, const auto& exact, Why why, double way) {
      const auto t = rising_crossing(f, horizon, armed);
      if (!t || !(*t < horizon)) return;
      out = {with_derivatives(*t, T(exact(T(*t))), f(*t).slope, horizon), why, way};
      horizon = *t;
    };
    for (const double way : {1.0, -1.0}) {
      const auto excess = [&](double t) {
        const auto q = reservoir_numbers.at(t);
        const auto u = series_numbers.at(t);
        return Slope{way * (value_of(height) + value_of(ramp) * t - u.reservoir_v) - value_of(drop_) - q.reservoir_v,
                     way * (value_of(ramp) - series_numbers.rate_at(t, u).reservoir_v) -
                         reservoir_numbers.rate_at(t, q).reservoir_v};
      };
      const auto exact = [&](const T& t) -> T {
        return way * (height + ramp * t - series.at(t).reservoir_v) - drop_ - reservoir.at(t).reservoir_v;
      };
      look(excess, exact, Why::bridge, way);
    }
    const double up = above ? -1.0 : 1.0;
    const auto past = [&](double t) {
      const auto q = reservoir_numbers.at(t);
      return Slope{up * (q.reservoir_v - value_of(threshold_v_)), up * reservoir_numbers.rate_at(t, q).reservoir_v};
    };
    look(
        past, [&](const T& t) -> T { return up * (reservoir.at(t).reservoir_v - threshold_v_); }, Why::threshold, 0.0);
    state[0] = series.at(out.time).reservoir_v;
    state[1] = reservoir.at(out.time).reservoir_v;
    return out;
  }

  /// The bridge conducts in the direction `way`.
  Cut fed(std::array<T, 2>& state, const T& height, const T& ramp, const T& left, bool above, bool armed, double way,
          Step<T>& step) const {
    const Tangent<T> load = load_at(state[1], above);
    const T drive = way * height - drop_;
    SeriesCharge<T> stretch = fed_network(load);
    stretch.start({way * state[0], state[1]}, drive, way * ramp, load.offset_a);
    const auto numbers = stretch.numbers();
    double horizon = horizon_of(load, left, above, [&](double t) { return numbers.at(t).reservoir_v; });
    Cut out{horizon < value_of(left) ? T(horizon) : left, Why::time, way};
    const auto look = [&](const auto& f, const auto& exact, Why why, double next_way) {
      const auto t = rising_crossing(f, horizon, armed);
      if (!t || !(*t < horizon)) return;
      out = {with_derivatives(*t, T(exact(T(*t))), f(*t).slope, horizon), why, next_way};
      horizon = *t;
    };
    // The bridge stops where the drive has fallen to the capacitors' voltages.
    const auto missing = [&](double t) {
      const auto x = numbers.at(t);
      const auto rate = numbers.rate_at(t, x);
      return Slope{x.series_v + x.reservoir_v - value_of(drive) - way * value_of(ramp) * t,
                   rate.series_v + rate.reservoir_v - way * value_of(ramp)};
    };
    const auto exact_missing = [&](const T& t) -> T {
      const SeriesState<T> x = stretch.at(t);
      return x.series_v + x.reservoir_v - drive - way * ramp * t;
    };
    look(missing, exact_missing, Why::bridge, 0.0);
    const double up = above ? -1.0 : 1.0;
    const auto past = [&](double t) {
      const auto x = numbers.at(t);
      return Slope{up * (x.reservoir_v - value_of(threshold_v_)), up * numbers.rate_at(t, x).reservoir_v};
    };
    look(
        past, [&](const T& t) -> T { return up * (stretch.at(t).reservoir_v - threshold_v_); }, Why::threshold, way);
    const SeriesState<T> end = stretch.at(out.time);
    step.charge_c += way * stretch.charge(out.time);
    step.current_a = way * stretch.current_at(out.time, end);
    state[0] = way * end.series_v;
    state[1] = end.reservoir_v;
    return out;
  }

  T inverse_series_f_, conductance_;
  T leak_;  ///< 1/s, of the series capacitor through its bleed resistance
  T drop_, inverse_reservoir_f_;
  LedStringLoad::Law<T> load_;
  T threshold_v_;
  mutable std::array<LinearStep, 2> steps_;  // below and above the threshold, for the step length last used
};

}  // namespace lampload
