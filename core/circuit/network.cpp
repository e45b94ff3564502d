#include "core/circuit/network.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "core/error.h"

namespace lampload {
namespace {

constexpr double least_step_s = 20e-9;
constexpr double shortest_retry = 3.0;  // least steps: a shorter step is taken as it is, or the rest of a run would be
                                        // too short to be left over and too long to be taken, for ever
constexpr double watch_step_s = 1e-6;
constexpr double leak_switch_s = 1e-9;  // keeps the node defined while the switch is open and the lamps block
constexpr double leak_terminal_s = 1e-7;
constexpr double coarsest_ringing = 0.3;  // square of angular frequency times step
constexpr double loosening = 4.0;         // of what is followed closely, once it has been for long enough
constexpr double ringing_slack = 30.0;    // it goes on as the network says, not as a parabola does
constexpr double amplifying_s = 1e-6;     // slope of the lamps' current, falling
constexpr double mostly = 0.9;            // of the balance by charge: the lamps are a capacitance
constexpr double scale_memory = 0.999;
constexpr int settling_steps = 3;     // steps after an event that are not judged and fully damped
constexpr double growth = 3.0;        // a step is at most this much longer than the last one
constexpr double idle_lengths = 2.0;  // nothing but the supply's own curve is lost on lamps that take nothing
constexpr double idle_s = 10.0 * leak_terminal_s;  // lamps that answer less than this take nothing

/// Weight of the end of the step for a decay exp(-z): exact for any z, 1/2 (undamped) for small z, 1 for stiff ones.
double fitted_weight(double z) {
  if (z < 1e-3) return 0.5 + z / 12.0;
  if (z > 700.0) return 1.0 - 1.0 / z;
  return 1.0 / (1.0 - std::exp(-z)) - 1.0 / z;
}

}  // namespace

Network::Network(const Path& path, std::span<const LampGroup> lamps, double time_s, const Accuracy& accuracy)
    : path_(path), accuracy_(accuracy) {
  for (const LampGroup& group : lamps) {
    if (group.count < 1)
      throw Error(ErrorCode::usage, fmt::format("{} lamps at a node; expected 1 or more", group.count));
    counts_.push_back(group.count);
    devices_.push_back(group.lamp.device());
    const std::span<double> state = devices_.back()->state();
    for (std::size_t i = 0; i < std::min(state.size(), group.start.size()); ++i) state[i] = group.start[i];
  }
  lamp_a_.resize(devices_.size(), 0.0);
  if (devices_.empty()) throw Error(ErrorCode::usage, "a network needs at least one lamp");
  now_.time_s = time_s;
  now_.supply_v = path_.supply_at(time_s);
  now_.switch_v = now_.supply_v;
  snubber_v_ = path_.snubber_f > 0.0 ? now_.supply_v : 0.0;
  next_dt_s_ = least_step_s;
}

void Network::adopt(const Network& other) {
  const double ratio = static_cast<double>(counts_[0]) / other.counts_[0];
  now_ = other.now_;
  now_.current_a *= ratio;
  now_.switch_a *= ratio;
  now_.supply_v = path_.supply_at(now_.time_s);
  snubber_v_ = other.snubber_v_;
  inductor_v_ = other.inductor_v_;
  closed_ = other.closed_;
  for (std::size_t i = 0; i < devices_.size() && i < other.devices_.size(); ++i) {
    const std::span<double> from = other.devices_[i]->state();
    const std::span<double> to = devices_[i]->state();
    if (from.size() == to.size()) std::copy(from.begin(), from.end(), to.begin());
  }
  restart();
}

std::vector<double> Network::state() const {
  std::vector<double> all{now_.terminal_v, now_.current_a, snubber_v_, inductor_v_};
  for (const auto& device : devices_) {
    const std::span<const double> one = device->state();
    all.insert(all.end(), one.begin(), one.end());
  }
  return all;
}

void Network::set_state(std::span<const double> state) {
  now_.terminal_v = state[0];
  now_.current_a = state[current_state];
  snubber_v_ = state[2];
  inductor_v_ = state[3];
  std::size_t at = node_states;
  for (const auto& device : devices_) {
    for (double& x : device->state()) x = state[at++];
  }
  restart();
}

void Network::restart() {
  next_dt_s_ = least_step_s;
  steps_since_event_ = 0;
  terminal_ = {};
  current_ = {};
  idle_ = false;
  capacitance_f_ = 0.0;
}

void Network::set_closed(bool closed) {
  if (closed == closed_) return;
  closed_ = closed;
  restart();
}

Network::LampSum Network::propose(double v0, double v1, double dt_s) const {
  LampSum sum{leak_terminal_s * v1, leak_terminal_s, 0.5 * leak_terminal_s * (v0 + v1) * dt_s,
              0.5 * leak_terminal_s * dt_s};
  for (std::size_t i = 0; i < devices_.size(); ++i) {
    const LampDevice::Response one = devices_[i]->propose(v0, v1, dt_s);
    const double n = counts_[i];
    sum.current_a += n * one.current_a;
    sum.current_slope += n * one.current_slope;
    sum.charge_c += n * one.charge_c;
    sum.charge_slope += n * one.charge_slope;
  }
  return sum;
}

// The lamps' companion form is met either by current at the end of the step (right for resistive and inductive
// terminals) or by charge over the step (right for a capacitance at the terminals, where the end current is only that
// of a straight line); the ratio of the two slopes says which: 1/3 inductive, 1/2 resistive, 1 capacitive.
Network::Balance Network::balance(const LampSum& lamps, double dt) const {
  const Conduction& conduction = closed_ ? path_.on : path_.off;
  Balance balance;
  const double ratio = lamps.charge_slope / (dt * lamps.current_slope);
  balance.by_charge = std::clamp(2.0 * ratio - 1.0, 0.0, 1.0);
  balance.straight = std::clamp(1.0 - 2.0 * (0.5 - ratio), 0.8, 1.0);
  const double load_ohm = 1.0 / std::max(lamps.current_slope, 1e-12);
  double inductance_h = path_.inductance_h;
  if (closed_ && steps_since_event_ >= settling_steps && inductance_h > 0.0) {
    const double load_z = dt * load_ohm / inductance_h;
    // a capacitance that the steps resolve is not damped, and is tuned so that it rings at its true frequency
    const double resolved = balance.by_charge * std::min(load_z, coarsest_ringing);
    balance.weight =
        fitted_weight(dt * (path_.resistance_ohm + conduction.slope_ohm) / inductance_h + load_z - resolved);
    inductance_h *= 1.0 - resolved / 6.0 + resolved * resolved / 240.0;
  }
  const double weight = balance.weight;
  const double l_dt = inductance_h / dt;
  balance.line_s = weight / (l_dt + weight * path_.resistance_ohm);
  balance.line_v = path_.supply_at(now_.time_s + dt) + (l_dt * now_.current_a + (1.0 - weight) * inductor_v_) / weight;
  balance.leak_s = leak_switch_s + path_.off_leak_s;
  balance.shunt_s = balance.leak_s;
  if (path_.snubber_f > 0.0) {
    const double branch_s = 1.0 / (path_.snubber_ohm + dt / path_.snubber_f);
    balance.shunt_s += branch_s;
    balance.shunt_a = branch_s * snubber_v_;
  }
  return balance;
}

// i1 = line_s * (line_v - v1 - switch_v)
Network::Flow Network::flow(const Balance& balance, const LampSum& lamps, double v1, double dt) const {
  const Conduction& conduction = closed_ ? path_.on : path_.off;
  const double b = balance.line_s;
  const double drive_v = balance.line_v - v1;
  Flow flow;
  flow.net_s = b + balance.shunt_s;
  flow.switch_v = (b * drive_v + balance.shunt_a) / flow.net_s;
  if (std::abs(flow.switch_v) > conduction.threshold_v) {
    const double pull = std::copysign(conduction.threshold_v, flow.switch_v) / conduction.slope_ohm;
    flow.net_s += 1.0 / conduction.slope_ohm;
    flow.switch_v = (b * drive_v + balance.shunt_a + pull) / flow.net_s;
  }
  flow.current_a = b * (drive_v - flow.switch_v);
  flow.slope_s = -b * (1.0 - b / flow.net_s);
  const double mean_a = balance.weight * flow.current_a + (1.0 - balance.weight) * now_.current_a;
  flow.miss_a = (1.0 - balance.by_charge) * (flow.current_a - lamps.current_a) +
                balance.by_charge * (mean_a - lamps.charge_c / dt);
  const double miss_slope = (1.0 - balance.by_charge) * (flow.slope_s - lamps.current_slope) +
                            balance.by_charge * (balance.weight * flow.slope_s - lamps.charge_slope / dt);
  flow.next_v = miss_slope < 0.0 ? v1 - flow.miss_a / miss_slope : v1;
  return flow;
}

Network::Trial Network::solve(double dt, double guess_v) const {
  const double v0 = now_.terminal_v;
  // lamps that were a mere capacitance are asked where such a one would take the node
  if (capacitance_f_ > 0.0 && closed_) {
    const double c_dt = capacitance_f_ / dt;
    const double at_a = drain_a_ + c_dt * (guess_v - v0);
    const LampSum expected{at_a, c_dt, dt * at_a, capacitance_f_};
    guess_v = flow(balance(expected, dt), expected, guess_v, dt).next_v;
  }
  LampSum lamps = propose(v0, guess_v, dt);
  const Balance net = balance(lamps, dt);

  Trial trial;
  trial.guess_v = guess_v;
  double v1 = guess_v;
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
  for (int iteration = 0; iteration < 60; ++iteration) {
    if (iteration > 0 || net.straight < 1.0) lamps = propose(v1 - net.straight * (v1 - v0), v1, dt);
    const Flow here = flow(net, lamps, v1, dt);
    (here.miss_a > 0.0 ? low : high) = v1;
    double v2 = here.next_v;
    // where next to nothing flows at all, rounding ends the search before the last correction is small
    const double tolerance_v = accuracy_.node * path_.supply_peak_v;
    if (std::abs(v2 - v1) <= tolerance_v || std::abs(high - low) <= 1e-3 * tolerance_v) {
      trial.end.time_s = now_.time_s + dt;
      trial.end.supply_v = path_.supply_at(trial.end.time_s);
      // The last correction is carried through: next to a path of milliohms a rest of microvolts would be seen.
      trial.end.terminal_v = v2;
      trial.end.current_a = here.current_a + here.slope_s * (v2 - v1);
      trial.end.switch_v = here.switch_v - net.line_s / here.net_s * (v2 - v1);
      trial.end.switch_a = trial.end.current_a - net.shunt_s * trial.end.switch_v + net.shunt_a;
      if (path_.snubber_f > 0.0) {
        const double branch_a = (net.shunt_s - net.leak_s) * trial.end.switch_v - net.shunt_a;
        trial.snubber_v = snubber_v_ + branch_a * dt / path_.snubber_f;
      }
      trial.moved_v = v2 - v1;
      trial.idle = lamps.current_slope < idle_s;
      if (net.by_charge > mostly) {
        trial.capacitance_f = 2.0 * lamps.charge_slope - dt * lamps.current_slope;
        trial.drain_a = (lamps.charge_c - trial.capacitance_f * (v1 - v0)) / dt;
        trial.amplifies = 2.0 * (lamps.current_slope - lamps.charge_slope / dt) < -amplifying_s;
      }
      trial.solved = true;
      return trial;
    }
    if (!(v2 > low && v2 < high) && std::isfinite(low) && std::isfinite(high)) v2 = 0.5 * (low + high);
    v1 = v2;
  }
  return trial;
}

void Network::Trend::add(double change, double dt_s) {
  const double mean_slope = change / dt_s;
  curvature = last_dt_s > 0.0 ? 2.0 * (mean_slope - last_slope) / (dt_s + last_dt_s) : 0.0;
  slope = mean_slope + 0.5 * curvature * dt_s;
  last_slope = mean_slope;
  last_dt_s = dt_s;
}

void Network::accept(const Trial& trial, double dt) {
  const Instant before = now_;
  now_ = trial.end;
  now_.lamp_charge_c = 0.0;
  for (std::size_t i = 0; i < devices_.size(); ++i) {
    const Step<double> step = devices_[i]->take(trial.moved_v);
    lamp_a_[i] = step.current_a;
    now_.lamp_charge_c += counts_[i] * step.charge_c;
  }
  snubber_v_ = trial.snubber_v;
  inductor_v_ = now_.supply_v - path_.resistance_ohm * now_.current_a - now_.switch_v - now_.terminal_v;
  if (trial.idle && !idle_) {
    terminal_ = {};  // what came before the jump says nothing of what follows
    current_ = {};
  } else {
    terminal_.add(now_.terminal_v - before.terminal_v, dt);
    current_.add(now_.current_a - before.current_a, dt);
  }
  now_.rings = rings(trial);
  if (now_.rings) now_.current_slope = inductor_v_ / path_.inductance_h;
  idle_ = trial.idle;
  capacitance_f_ = trial.capacitance_f;
  drain_a_ = trial.drain_a;
  current_scale_a_ = std::max(current_scale_a_ * scale_memory, std::abs(now_.current_a));
  // what grows by itself is as new as what an event has started
  steps_since_event_ =
      now_.rings && trial.amplifies ? std::min(steps_since_event_ + 1, settling_steps) : steps_since_event_ + 1;
}

/// Do inductance and lamps ring freely? Nothing switches from step to step then.
bool Network::rings(const Trial& trial) const {
  constexpr double same = 1e-3;
  return closed_ && path_.inductance_h > 0.0 && trial.capacitance_f > 0.0 &&
         std::abs(trial.capacitance_f - capacitance_f_) < same * trial.capacitance_f;
}

// Lamps that take nothing leave the node to the supply.
double Network::expected_change(double dt, bool judged) const {
  if (idle_ && closed_) return path_.supply_at(now_.time_s + dt) - now_.supply_v;
  return judged ? terminal_.ahead(dt) : 0.0;
}

void Network::run_to(double time_s, const Observer& observer) {
  while (time_s - now_.time_s > 1e-12) {
    const double left = time_s - now_.time_s;
    double dt = std::min(next_dt_s_, left);
    if (left - dt < least_step_s) dt = left;  // no sliver at the end
    const bool judged = steps_since_event_ >= settling_steps;
    const Trial trial = solve(dt, now_.terminal_v + expected_change(dt, judged));
    double error = trial.solved ? 0.0 : 100.0;
    const double loose = 1.0 + loosening * std::max(0.0, steps_since_event_ / accuracy_.close_steps - 1.0);
    if (trial.solved && judged) {
      const double off_a = std::abs(trial.end.current_a - now_.current_a - current_.ahead(dt));
      const double off_v = std::abs(trial.end.terminal_v - trial.guess_v);
      error = off_a / (accuracy_.step * std::max(current_scale_a_, 1e-3));
      // Where the lamps' current ends, the node goes from what they hold it at to what the supply says.
      const bool jumps = trial.idle && !(idle_ && terminal_.last_dt_s > 0.0);
      if (!jumps) error = std::max(error, off_v / (accuracy_.step * path_.supply_peak_v));
      // A choke rings with the lamps' input capacitance for longer than anybody cares.
      if (trial.capacitance_f > 0.0) error /= loose * loose * (rings(trial) ? ringing_slack : 1.0);
    }
    if (error > 2.0 && dt > shortest_retry * least_step_s) {
      next_dt_s_ = std::max(least_step_s, dt * std::max(0.2, 0.8 / std::sqrt(error)));
      continue;
    }
    if (!trial.solved) {
      throw Error(ErrorCode::calculation,
                  fmt::format("the network could not be solved at {:.6f} ms into the simulation", now_.time_s * 1e3));
    }
    const double from_a = std::abs(now_.switch_a);
    const double to_a = trial.end.switch_a * now_.switch_a > 0.0 ? std::abs(trial.end.switch_a) : 0.0;
    if (from_a > watch_a_ && to_a < watch_a_ && dt > watch_step_s) {
      next_dt_s_ = std::max(watch_step_s, dt * (from_a - watch_a_) / (from_a - to_a));
      const bool sliver = left - next_dt_s_ < least_step_s;  // it would be made as long again, for ever
      if (next_dt_s_ < 0.99 * dt && !sliver) continue;
    }
    const Instant before = now_;
    double longest_s = (trial.idle && closed_ ? idle_lengths : 1.0) * accuracy_.longest_step_s;
    if (rings(trial)) {
      longest_s =
          std::min(longest_s, loose * accuracy_.ringing_step * std::sqrt(path_.inductance_h * trial.capacitance_f));
    }
    accept(trial, dt);
    next_dt_s_ = std::max(least_step_s,
                          std::min(longest_s, dt * std::clamp(0.8 / std::sqrt(std::max(error, 1e-6)), 0.3, growth)));
    if (!observer(before, now_)) return;
  }
}

}  // namespace lampload
