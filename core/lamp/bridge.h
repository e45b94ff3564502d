#pragma once
// The bridge rectifier with its reservoir, stepped from instant to instant: which parts conduct, for how long, and what
// flows meanwhile.

#include <algorithm>
#include <array>
#include <cmath>
#include <span>

#include "core/lamp/load_law.h"
#include "core/lamp/one_port.h"
#include "core/lamp/reservoir.h"

namespace lampload {

/// The model behind RectifierCapacitor (rectifier_capacitor.h has the circuit). Parameters: series resistance and
/// inductance, input capacitance, rectifier drop, reservoir capacitance and ESR, then the load law's.
template <class T, class Load>
class BridgeModel {
 public:
  explicit BridgeModel(std::span<const T> p)
      : resistance_(p[0]),
        inductance_(p[1]),
        input_capacitance_(p[2]),
        drop_(p[3]),
        inverse_capacitance_(1.0 / p[4]),
        esr_(p[5]),
        esr_share_(p[5] / (p[0] + p[5])),
        fed_esr_(esr_share_ * p[0]),
        choked_(value_of(p[1]) > 0.0),
        load_(p.subspan(6)),
        below_(network(load_.below())),
        above_(network(load_.above(load_.threshold_v(), T(0.0)))),
        threshold_v_(load_.threshold_v() + esr_ * load_.threshold_a()),
        fed_threshold_v_(load_.threshold_v() + fed_esr_ * load_.threshold_a()) {}

  Step<T> advance(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s) const {
    const T displaced = input_capacitance_ * (v1 - v0);
    T charge = displaced;
    if (value_of(v0) * value_of(v1) < 0.0) {
      const T crossing = v0 / (v0 - v1) * dt_s;
      charge += one_polarity(state, v0, T(0.0), crossing);
      charge += one_polarity(state, T(0.0), v1, dt_s - crossing);
    } else {
      charge += one_polarity(state, v0, v1, T(dt_s));
    }
    return {state[1] + displaced * (1.0 / dt_s), charge};
  }

 private:
  /// The load as a straight line, and what follows from it for the network.
  struct Network {
    Tangent<T> load;
    T loading;        ///< 1 / (1 + ESR g): what the load leaves of the reservoir voltage while the bridge blocks
    T inverse_total;  ///< 1 / (Rs + ESR + Rs ESR g)
    T blocked_rate;   ///< 1/s
    T fed_rate;       ///< 1/s, while the bridge conducts without inductance
  };

  /// Where a stretch ends, and why.
  enum class Why { time, bridge, threshold };
  struct Cut {
    T time;
    Why why;
  };

  /// On which side of its threshold the load is, and what is looked for.
  struct Side {
    bool above;
    bool watched = true;  ///< is the threshold looked for?
    bool armed = true;    ///< see rising_crossing()
  };

  /// Both quantities are signed so that the instant is their rise through zero.
  struct Monitors {
    Monitor<T> bridge, threshold;
  };

  // Enough for a bus that collapses under a constant-power load within one step.
  static constexpr int most_stretches = 200;
  // A load that finds no stable bus flips between its two sides: after so many in one step it stays down.
  static constexpr int most_flips = 5;

  Network network(const Tangent<T>& load) const {
    const T loading = 1.0 / (1.0 + esr_ * load.slope_s);
    const T total = 1.0 / (resistance_ + esr_ + resistance_ * esr_ * load.slope_s);
    return {load, loading, total, load.slope_s * loading * inverse_capacitance_,
            (1.0 + resistance_ * load.slope_s) * total * inverse_capacitance_};
  }

  /// open_v: the bus without the load; source_ohm: what it is behind.
  Network network_at(const T& open_v, const T& source_ohm, bool above) const {
    if (!above) return below_;
    if constexpr (!Load::curved) {
      return above_;
    } else {
      return network(load_.above(open_v, source_ohm));
    }
  }

  /// Steps through a duration in which the terminal voltage keeps its sign. Returns the charge through the bridge.
  T one_polarity(std::array<T, 2>& state, const T& v0, const T& v1, const T& duration) const {
    if (!(value_of(duration) > 0.0)) return T(0.0);
    const double sign = value_of(v0) + value_of(v1) < 0.0 ? -1.0 : 1.0;
    T height = sign * v0;  // rectified terminal voltage
    const T ramp = sign * (v1 - v0) / duration;
    T left = duration;
    T charge(0.0);
    ReservoirState<T> x{state[0], sign * state[1]};
    bool conducting = false;
    Side load_side{value_of(x.reservoir_v) > value_of(threshold_v_)};
    if (choked_) {
      conducting = value_of(x.bridge_a) != 0.0;
      if (conducting) load_side.above = value_of(x.reservoir_v + esr_ * abs_of(x.bridge_a)) > value_of(threshold_v_);
    } else {
      const Network n = network_at(x.reservoir_v, esr_, load_side.above);
      conducting = value_of(height - drop_) > value_of(blocked_bus(n, x.reservoir_v));
      if (conducting) load_side.above = value_of(open_bus(x.reservoir_v, height - drop_)) > value_of(fed_threshold_v_);
    }
    int flips = 0;
    for (int i = 0; i < most_stretches && value_of(left) > 0.0; ++i) {
      // current that the inductance still drives against a voltage that has turned
      const double way = conducting && choked_ && value_of(x.bridge_a) < 0.0 ? -1.0 : 1.0;
      const T drive = way * height - drop_;
      Why why;
      T spent;
      if (!conducting) {
        const Cut cut = blocked(x, drive, ramp, left, load_side);
        spent = cut.time, why = cut.why;
      } else if (choked_) {
        x.bridge_a = way * x.bridge_a;
        const Cut cut = choked(x, drive, way * ramp, left, load_side, way, charge);
        x.bridge_a = way * x.bridge_a;
        spent = cut.time, why = cut.why;
      } else {
        const Cut cut = fed(x, drive, ramp, left, load_side, charge);
        spent = cut.time, why = cut.why;
      }
      if (why == Why::bridge) conducting = !conducting;
      if (why == Why::threshold) {
        load_side.above = !load_side.above;
        if (++flips == most_flips) load_side = {.above = false, .watched = false};
      }
      if (!conducting) x.bridge_a = T(0.0);
      load_side.armed = why == Why::time;
      height += ramp * spent;
      left -= spent;
      if (value_of(left) < 1e-12 * value_of(duration)) break;
    }
    state[0] = x.reservoir_v;
    state[1] = sign * x.bridge_a;
    return sign * charge;
  }

  static T abs_of(const T& x) { return value_of(x) < 0.0 ? T(-x) : x; }
  /// Bus voltage while the bridge blocks.
  T blocked_bus(const Network& n, const T& reservoir_v) const {
    return n.loading * (reservoir_v - esr_ * n.load.offset_a);
  }
  /// Bus voltage while the bridge conducts, without the load: decides on which side of its threshold the load is.
  T open_bus(const T& reservoir_v, const T& drive) const { return reservoir_v + esr_share_ * (drive - reservoir_v); }

  /// The end of a stretch: all the time left, the first instant, or as far as a curved load's tangent holds.
  template <class Stretch>
  Cut cut(const Stretch& stretch, const Monitors& monitors, const T& left, double longest, double bus_v,
          const Network& n, Side side) const {
    const auto numbers = stretch.numbers();
    double horizon = std::min(value_of(left), longest);
    if constexpr (Load::curved) {
      if (side.above) {
        const double start = value_of(numbers.at(0.0).reservoir_v);
        const double drawn =
            (value_of(n.load.offset_a) + value_of(n.load.slope_s) * bus_v) * value_of(inverse_capacitance_);
        for (int i = 0; i < 12; ++i) {
          const double end = numbers.at(horizon).reservoir_v;
          const double change = std::min(1.0, std::abs(end - start) / bus_v);
          if (!(drawn * horizon * change * change > 1e-4 * std::max(bus_v, end))) break;
          horizon *= 0.5;
        }
      }
    }
    Cut out{horizon < value_of(left) ? T(horizon) : left, Why::time};
    const auto look = [&](const Monitor<T>& monitor, Why why) {
      const Monitor<double> m = monitor.numbers();
      const auto f = [&](double t) { return observe(m, numbers, t); };
      const auto t = rising_crossing(f, horizon, side.armed);
      if (!t || !(*t < horizon)) return;
      const T fixed(*t);
      out = {with_derivatives(*t, monitor.value(fixed, stretch.at(fixed)), f(*t).slope, horizon), why};
      horizon = *t;
    };
    look(monitors.bridge, Why::bridge);
    if (side.watched) look(monitors.threshold, Why::threshold);
    return out;
  }

  /// The bridge blocks: the reservoir feeds the load alone.
  Cut blocked(ReservoirState<T>& x, const T& drive, const T& ramp, const T& left, Side side) const {
    const T start = x.reservoir_v;
    const Network n = network_at(start, esr_, side.above);
    const Relaxation<T> stretch{start, -n.loading * (n.load.offset_a + n.load.slope_s * start) * inverse_capacitance_,
                                n.blocked_rate, T(0.0)};
    const double up = side.above ? -1.0 : 1.0;
    const Monitors monitors{{drive + n.loading * esr_ * n.load.offset_a, ramp, -n.loading, T(0.0)},
                            {-up * threshold_v_, T(0.0), T(up), T(0.0)}};
    const Cut end = cut(stretch, monitors, left, runaway(n.blocked_rate), value_of(start), n, side);
    x.reservoir_v = stretch.at(end.time).reservoir_v;
    return end;
  }

  /// The bridge conducts, no series inductance.
  Cut fed(ReservoirState<T>& x, const T& drive, const T& ramp, const T& left, Side side, T& charge) const {
    const T start = x.reservoir_v;
    const T bus = open_bus(start, drive);
    const Network n = network_at(bus, fed_esr_, side.above);
    const T per_farad = n.inverse_total * inverse_capacitance_;
    const Relaxation<T> stretch{
        start, (drive - resistance_ * n.load.offset_a - (1.0 + resistance_ * n.load.slope_s) * start) * per_farad,
        n.fed_rate, ramp * per_farad};
    // bridge current = admittance * drive + constant - reservoir / total
    const T admittance = (1.0 + esr_ * n.load.slope_s) * n.inverse_total;
    const T constant = esr_ * n.load.offset_a * n.inverse_total;
    const double up = side.above ? -1.0 : 1.0;
    const Monitors monitors{
        {-(admittance * drive + constant), -admittance * ramp, n.inverse_total, T(0.0)},
        {up * (esr_share_ * drive - fed_threshold_v_), up * esr_share_ * ramp, up * (1.0 - esr_share_), T(0.0)}};
    const Cut end = cut(stretch, monitors, left, runaway(n.fed_rate), value_of(bus), n, side);
    const T& t = end.time;
    const auto [reservoir, integral] = stretch.at_and_integral(t);
    charge += t * (admittance * (drive + 0.5 * t * ramp) + constant) - n.inverse_total * integral;
    x.reservoir_v = reservoir;
    x.bridge_a = admittance * (drive + t * ramp) + constant - n.inverse_total * reservoir;
    if (value_of(x.bridge_a) < 0.0) x.bridge_a = T(0.0);
    return end;
  }

  /// The bridge conducts through the series inductance. way: direction of the current against the terminal voltage.
  Cut choked(ReservoirState<T>& x, const T& drive, const T& ramp, const T& left, Side side, double way,
             T& charge) const {
    const T bus = x.reservoir_v + esr_ * x.bridge_a;
    const Network n = network_at(bus, esr_, side.above);
    const T inverse_l = 1.0 / inductance_;
    const T& k = n.loading;
    const ChokedCharge<T> stretch(
        x, {-n.blocked_rate, k * inverse_capacitance_, -k * inverse_l, -(resistance_ + k * esr_) * inverse_l,
            -k * n.load.offset_a * inverse_capacitance_, (drive + k * esr_ * n.load.offset_a) * inverse_l,
            ramp * inverse_l});
    const double up = side.above ? -1.0 : 1.0;
    const Monitors monitors{{T(0.0), T(0.0), T(0.0), T(-1.0)}, {-up * threshold_v_, T(0.0), T(up), up * esr_}};
    const Cut end = cut(stretch, monitors, left, stretch.longest_s(value_of(left)), value_of(bus), n, side);
    x = stretch.at(end.time);
    charge += way * stretch.charge(end.time, x);
    if (value_of(x.bridge_a) < 0.0) x.bridge_a = T(0.0);
    return end;
  }

  /// Longest stretch before an exponential that grows becomes unreliable.
  static double runaway(const T& rate) { return value_of(rate) < 0.0 ? -0.5 / value_of(rate) : 1e9; }

  T resistance_, inductance_, input_capacitance_, drop_, inverse_capacitance_, esr_, esr_share_, fed_esr_;
  bool choked_;
  typename Load::template Law<T> load_;
  Network below_, above_;
  // the bus voltage without the load at which the load, when it draws its threshold current, sees its threshold voltage
  T threshold_v_, fed_threshold_v_;
};

}  // namespace lampload
