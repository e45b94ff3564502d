#pragma once
// The bridge rectifier with its reservoir, stepped from instant to instant: which parts conduct, for how long, and what
// flows meanwhile.

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <type_traits>
#include <utility>

#include "core/lamp/chain.h"
#include "core/lamp/dual.h"
#include "core/lamp/fed_stretch.h"
#include "core/lamp/load_law.h"
#include "core/lamp/one_port.h"
#include "core/lamp/reservoir.h"

namespace lampload {

/// The model behind RectifierCapacitor (rectifier_capacitor.h has the circuit). Parameters: series resistance and
/// inductance, input capacitance, rectifier drop, reservoir capacitance and ESR, then the load law's. Keeps what
/// depends on the step length from one step to the next: one thread a model.
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
        load_numbers_(numbers_of(p.subspan(6))),
        below_(network(load_.below())),
        above_(network(load_.above(load_.threshold_v(), T(0.0)))),
        threshold_v_(load_.threshold_v() + esr_ * load_.threshold_a()),
        fed_threshold_v_(load_.threshold_v() + fed_esr_ * load_.threshold_a()) {}

  /// For a resistance that changes from step to step.
  void set_series_resistance(const T& ohm) {
    resistance_ = ohm;
    esr_share_ = esr_ / (ohm + esr_);
    fed_esr_ = esr_share_ * ohm;
    below_ = network(load_.below());
    above_ = network(load_.above(load_.threshold_v(), T(0.0)));
    fed_threshold_v_ = load_.threshold_v() + fed_esr_ * load_.threshold_a();
    for (FedStep& step : fed_steps_) step.dt_s = 0.0;
  }

  Step<T> advance(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s) const {
    const T displaced = input_capacitance_ * (v1 - v0);
    T charge = displaced;
    if (value_of(v0) * value_of(v1) < 0.0) {
      const T crossing = v0 / (v0 - v1) * dt_s;
      charge += one_polarity(state, v0, T(0.0), crossing);
      charge += one_polarity(state, T(0.0), v1, dt_s - crossing);
    } else if (!stays_blocked(state, v0, v1, dt_s) && !stays_fed(state, v0, v1, dt_s, charge)) {
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
    T drain;          ///< V/s, what the load's constant part takes while the bridge blocks
    // while the bridge conducts without inductance
    T fed_rate;    ///< 1/s
    T admittance;  ///< bridge current = admittance * drive + injection - reservoir * inverse_total
    T injection_a;
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
    Monitor bridge, threshold;
  };

  // Enough for a bus that collapses under a constant-power load within one step.
  static constexpr int most_stretches = 200;
  // A load that finds no stable bus flips between its two sides: after so many in one step it stays down.
  static constexpr int most_flips = 5;

  Network network(const Tangent<T>& load) const {
    const T loading = 1.0 / (1.0 + esr_ * load.slope_s);
    const T total = 1.0 / (resistance_ + esr_ + resistance_ * esr_ * load.slope_s);
    return {load,
            loading,
            total,
            load.slope_s * loading * inverse_capacitance_,
            load.offset_a * loading * inverse_capacitance_,
            (1.0 + resistance_ * load.slope_s) * total * inverse_capacitance_,
            (1.0 + esr_ * load.slope_s) * total,
            esr_ * load.offset_a * total};
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

  /// The most usual step, at little cost: the bridge blocks from end to end and nothing else happens. False, with
  /// nothing done, where that is not certain.
  bool stays_blocked(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s) const {
    if (choked_ && value_of(state[1]) != 0.0) return false;
    const double start = value_of(state[0]);
    const double esr = value_of(esr_);
    const double u0 = std::abs(value_of(v0)) - value_of(drop_);
    const double u1 = std::abs(value_of(v1)) - value_of(drop_);
    const bool above = start > value_of(threshold_v_);
    double drawn_a, bus, loading, inverse_tau;
    Draw<Load::parameters.size()> draw;
    if constexpr (Load::curved) {
      if (above) draw = load_.draw(start, esr);
    }
    if (Load::curved && above) {
      if (!draw.stable) return false;
      bus = draw.bus_v;
      drawn_a = draw.current_a;
      loading = draw.bus_slope;
      inverse_tau = draw.slope_s * value_of(inverse_capacitance_);
      if (!(std::abs(inverse_tau) * dt_s < 0.02)) return false;
    } else {
      const Network& n = above ? above_ : below_;
      loading = value_of(n.loading);
      bus = loading * (start - esr * value_of(n.load.offset_a));
      drawn_a = value_of(n.load.offset_a) + value_of(n.load.slope_s) * bus;
      inverse_tau = value_of(n.blocked_rate);
    }
    if (!(u0 < bus)) return false;
    const double rate = -drawn_a * value_of(inverse_capacitance_);
    const auto p = phi_values(-inverse_tau * dt_s);
    const double change = dt_s * p[0] * rate;
    const double slope_u = (u1 - u0) / dt_s;
    if (!(u1 < bus + loading * change)) return false;
    if (slope_u > loading * rate && slope_u < loading * (rate - inverse_tau * change)) return false;
    if ((start + change > value_of(threshold_v_)) != above) return false;

    if constexpr (std::is_same_v<T, Dual>) {  // no parameter varies, and nothing reaches the reservoir
      if (state[0].v == 0.0) {
        state = {start + change, 0.0};
        return true;
      }
    }
    const double by_rate = dt_s * p[0];
    const double by_inverse_tau = -dt_s * dt_s * (p[0] - p[1]) * rate;
    if constexpr (Load::curved) {
      if (above) {
        const double farads = value_of(inverse_capacitance_);
        const auto by = [&](double current_x, double slope_x) {
          return farads * (by_inverse_tau * slope_x - by_rate * current_x);
        };
        [&]<std::size_t... I>(std::index_sequence<I...>) {
          state[0] = chain(start + change, Partial<T>{1.0 + by(draw.slope_s, draw.slope_by_open), state[0]},
                           Partial<T>{by(draw.current_by_source, draw.slope_by_source), esr_},
                           Partial<T>{(by_rate * rate + by_inverse_tau * inverse_tau) / farads, inverse_capacitance_},
                           Partial<T>{by(draw.current_by[I], draw.slope_by[I]), load_.template parameter<I>()}...);
        }
        (std::make_index_sequence<Load::parameters.size()>());
        state[1] = T(0.0);
        return true;
      }
    }
    const Network& n = above ? above_ : below_;
    state[0] = chain(start + change, Partial<T>{1.0 - inverse_tau * by_rate, state[0]},
                     Partial<T>{by_inverse_tau - by_rate * start, n.blocked_rate}, Partial<T>{-by_rate, n.drain});
    state[1] = T(0.0);
    return true;
  }

  /// What a step of fixed length does while the bridge conducts without inductance: linear in the reservoir voltage
  /// before it and the drive at both ends.
  struct FedStep {
    double dt_s = 0.0;
    T by_start, by_drive0, by_drive1, constant;  // reservoir after
    T charge_by_start, charge_by_drive0, charge_by_drive1, charge_constant;
  };

  const FedStep& fed_step(const Network& n, double dt_s, FedStep& step) const {
    if (step.dt_s == dt_s) return step;
    const T per_farad = n.inverse_total * inverse_capacitance_;
    const auto p = phi(T(-n.fed_rate * dt_s));
    const T pull = resistance_ * n.load.offset_a;
    step.dt_s = dt_s;
    step.by_start = 1.0 - dt_s * p.phi1 * n.fed_rate;
    step.by_drive0 = dt_s * per_farad * (p.phi1 - p.phi2);
    step.by_drive1 = dt_s * per_farad * p.phi2;
    step.constant = -dt_s * per_farad * p.phi1 * pull;
    const T half = 0.5 * dt_s * n.admittance;
    const T share = dt_s * n.inverse_total;
    step.charge_by_start = -share * (1.0 - dt_s * p.phi2 * n.fed_rate);
    step.charge_by_drive0 = half - share * dt_s * per_farad * (p.phi2 - p.phi3);
    step.charge_by_drive1 = half - share * dt_s * per_farad * p.phi3;
    step.charge_constant = dt_s * n.injection_a + share * dt_s * per_farad * p.phi2 * pull;
    return step;
  }

  /// As stays_blocked(), for a bridge that conducts from end to end, without inductance, into a straight-line load.
  bool stays_fed(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s, T& charge) const {
    if (choked_) return false;
    const double start = value_of(state[0]);
    const double drop = value_of(drop_);
    const double u0 = std::abs(value_of(v0)) - drop;
    const double u1 = std::abs(value_of(v1)) - drop;
    const double share = value_of(esr_share_);
    const bool above = start + share * (u0 - start) > value_of(fed_threshold_v_);
    if (Load::curved && above) return stays_fed_on_the_curve(state, v0, v1, dt_s, charge);
    const Network& n = above ? above_ : below_;
    const double admittance = value_of(n.admittance);
    const double total = value_of(n.inverse_total);
    if (!(admittance * u0 + value_of(n.injection_a) > total * start)) return false;
    const FedStep& step = fed_step(n, dt_s, fed_steps_[above ? 1 : 0]);
    const double end = value_of(step.by_start) * start + value_of(step.by_drive0) * u0 + value_of(step.by_drive1) * u1 +
                       value_of(step.constant);
    if (!(admittance * u1 + value_of(n.injection_a) > total * end)) return false;
    if ((end + share * (u1 - end) > value_of(fed_threshold_v_)) != above) return false;
    // current that falls first and rises at the end may have been through zero
    const double rate0 =
        value_of(inverse_capacitance_) * total * (u0 - value_of(resistance_) * value_of(n.load.offset_a)) -
        value_of(n.fed_rate) * start;
    const double rate1 =
        rate0 + value_of(inverse_capacitance_) * total * (u1 - u0) - value_of(n.fed_rate) * (end - start);
    const double rise = admittance * (u1 - u0) / dt_s;
    if (rise < total * rate0 && rise > total * rate1) return false;

    const double sign = value_of(v0) + value_of(v1) < 0.0 ? -1.0 : 1.0;
    const T drive0 = sign * v0 - drop_;
    const T drive1 = sign * v1 - drop_;
    charge += sign * (step.charge_by_start * state[0] + step.charge_by_drive0 * drive0 +
                      step.charge_by_drive1 * drive1 + step.charge_constant);
    state[0] = step.by_start * state[0] + step.by_drive0 * drive0 + step.by_drive1 * drive1 + step.constant;
    state[1] = sign * (n.admittance * drive1 + n.injection_a - n.inverse_total * state[0]);
    return true;
  }

  /// As stays_fed(), into a curved load, where no parameter varies and the step starts from numbers.
  bool stays_fed_on_the_curve(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s, T& charge) const {
    if constexpr (Load::curved && std::is_same_v<T, Dual>) {
      if (state[0].v != 0.0 || v0.v != 0.0) return false;
      const double sign = v0.a + v1.a < 0.0 ? -1.0 : 1.0;
      const FedBridge bridge{resistance_.a, inverse_capacitance_.a, esr_.a, esr_share_.a,
                             fed_esr_.a,    fed_threshold_v_.a};
      const FedStretch end =
          fed_stretch(load_numbers_, bridge, state[0].a, sign * v0.a - drop_.a, sign * v1.a - drop_.a, dt_s);
      if (!end.certain) return false;
      state[0] = {end.reservoir_v, sign * end.reservoir_slope * v1.v};
      state[1] = {sign * end.current_a, end.current_slope * v1.v};
      charge += Dual(sign * end.charge_c, end.charge_slope * v1.v);
      return true;
    } else {
      return false;
    }
  }

  static typename Load::template Law<double> numbers_of(std::span<const T> p) {
    std::array<double, Load::parameters.size()> values{};
    for (std::size_t i = 0; i < values.size(); ++i) values[i] = value_of(p[i]);
    return typename Load::template Law<double>(std::span<const double>(values));
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
  /// exact(why, t, state): the monitored quantity in T.
  template <class Stretch, class Exact>
  Cut cut(const Stretch& stretch, const Monitors& monitors, const Exact& exact, const T& left, double longest,
          double bus_v, const Network& n, Side side) const {
    const auto numbers = stretch.numbers();
    double horizon = std::min(value_of(left), longest);
    // the ends are looked at again and again
    const ReservoirState<double> begin = numbers.begin();
    double end_s = horizon;
    ReservoirState<double> end = numbers.at(end_s);
    const auto state_at = [&](double t) { return t == 0.0 ? begin : t == end_s ? end : numbers.at(t); };
    if constexpr (Load::curved) {
      if (side.above) {
        const double current = value_of(n.load.offset_a) + value_of(n.load.slope_s) * bus_v;
        const double drawn = current * value_of(inverse_capacitance_);
        const double straight_v = load_.straight_v(bus_v, current);
        for (int i = 0; i < 12; ++i) {
          const double change = std::min(1.0, std::abs(end.reservoir_v - begin.reservoir_v) / straight_v);
          if (!(drawn * horizon * change * change > 1e-4 * std::max(bus_v, end.reservoir_v))) break;
          horizon *= 0.5;
          end_s = horizon;
          end = numbers.at(end_s);
        }
      }
    }
    Cut out{horizon < value_of(left) ? T(horizon) : left, Why::time};
    const auto look = [&](const Monitor& monitor, Why why) {
      const auto f = [&](double t) { return observe(monitor, numbers, t, state_at(t)); };
      const auto t = rising_crossing(f, horizon, side.armed);
      if (!t || !(*t < horizon)) return;
      const T fixed(*t);
      out = {with_derivatives(*t, exact(why, fixed, stretch.at(fixed)), f(*t).slope, horizon), why};
      end = state_at(*t);
      end_s = horizon = *t;
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
    const double loading = value_of(n.loading);
    const Monitors monitors{
        {value_of(drive) + loading * value_of(esr_) * value_of(n.load.offset_a), value_of(ramp), -loading, 0.0},
        {-up * value_of(threshold_v_), 0.0, up, 0.0}};
    const auto exact = [&](Why why, const T& t, const ReservoirState<T>& at) -> T {
      if (why == Why::bridge) return drive + ramp * t - n.loading * (at.reservoir_v - esr_ * n.load.offset_a);
      return up * (at.reservoir_v - threshold_v_);
    };
    const Cut end = cut(stretch, monitors, exact, left, runaway(n.blocked_rate), value_of(start), n, side);
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
    const T& admittance = n.admittance;
    const T& constant = n.injection_a;
    const double up = side.above ? -1.0 : 1.0;
    const double share = value_of(esr_share_);
    const Monitors monitors{{-value_of(admittance) * value_of(drive) - value_of(constant),
                             -value_of(admittance) * value_of(ramp), value_of(n.inverse_total), 0.0},
                            {up * (share * value_of(drive) - value_of(fed_threshold_v_)), up * share * value_of(ramp),
                             up * (1.0 - share), 0.0}};
    const auto exact = [&](Why why, const T& t, const ReservoirState<T>& at) -> T {
      const T now = drive + ramp * t;
      if (why == Why::bridge) return n.inverse_total * at.reservoir_v - admittance * now - constant;
      return up * (open_bus(at.reservoir_v, now) - fed_threshold_v_);
    };
    const Cut end = cut(stretch, monitors, exact, left, runaway(n.fed_rate), value_of(bus), n, side);
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
    const Monitors monitors{{0.0, 0.0, 0.0, -1.0}, {-up * value_of(threshold_v_), 0.0, up, up * value_of(esr_)}};
    const auto exact = [&](Why why, const T& /*t*/, const ReservoirState<T>& at) -> T {
      if (why == Why::bridge) return -at.bridge_a;
      return up * (at.reservoir_v + esr_ * at.bridge_a - threshold_v_);
    };
    const Cut end = cut(stretch, monitors, exact, left, stretch.longest_s(value_of(left)), value_of(bus), n, side);
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
  typename Load::template Law<double> load_numbers_;
  Network below_, above_;
  // the bus voltage without the load at which the load, when it draws its threshold current, sees its threshold voltage
  T threshold_v_, fed_threshold_v_;
  mutable std::array<FedStep, 2> fed_steps_;  // below and above the threshold, for the step length last used
};

}  // namespace lampload
