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
constexpr double scale_memory = 0.999;
constexpr int settling_steps = 3;  // steps after an event that are not judged and fully damped

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
Network::Trial Network::solve(double dt, double guess_v) const {
  const Conduction& conduction = closed_ ? path_.on : path_.off;
  const bool settling = steps_since_event_ < settling_steps;
  const double vs1 = path_.supply_at(now_.time_s + dt);
  const double v0 = now_.terminal_v;

  LampSum lamps = propose(v0, guess_v, dt);
  const double ratio = lamps.charge_slope / (dt * lamps.current_slope);
  const double by_charge = std::clamp(2.0 * ratio - 1.0, 0.0, 1.0);
  const double straight = std::clamp(1.0 - 2.0 * (0.5 - ratio), 0.8, 1.0);  // < 1 damps two inductances in series
  const double load_ohm = 1.0 / std::max(lamps.current_slope, 1e-12);
  double weight = 1.0;
  double inductance_h = path_.inductance_h;
  if (closed_ && !settling && inductance_h > 0.0) {
    const double load_z = dt * load_ohm / inductance_h;
    // a capacitance that the steps resolve is not damped, and is tuned so that it rings at its true frequency
    const double resolved = by_charge * std::min(load_z, coarsest_ringing);
    weight = fitted_weight(dt * (path_.resistance_ohm + conduction.slope_ohm) / inductance_h + load_z - resolved);
    inductance_h *= 1.0 - resolved / 6.0;
  }

  // i1 = b * (e - v1 - vsw)
  const double l_dt = inductance_h / dt;
  const double b = weight / (l_dt + weight * path_.resistance_ohm);
  const double e = vs1 + (l_dt * now_.current_a + (1.0 - weight) * inductor_v_) / weight;
  const double leak_s = leak_switch_s + path_.off_leak_s;
  double shunt_s = leak_s;
  double shunt_a = 0.0;
  if (path_.snubber_f > 0.0) {
    const double branch_s = 1.0 / (path_.snubber_ohm + dt / path_.snubber_f);
    shunt_s += branch_s;
    shunt_a = branch_s * snubber_v_;
  }

  Trial trial;
  double v1 = guess_v;
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
  for (int iteration = 0; iteration < 60; ++iteration) {
    if (iteration > 0 || straight < 1.0) {
      lamps = propose(v1 - straight * (v1 - v0), v1, dt);
    }
    double net_s = b + shunt_s;
    double vsw = (b * (e - v1) + shunt_a) / net_s;
    if (std::abs(vsw) > conduction.threshold_v) {
      const double pull = std::copysign(conduction.threshold_v, vsw) / conduction.slope_ohm;
      net_s += 1.0 / conduction.slope_ohm;
      vsw = (b * (e - v1) + shunt_a + pull) / net_s;
    }
    const double i1 = b * (e - v1 - vsw);
    const double i1_slope = -b * (1.0 - b / net_s);
    const double flow = weight * i1 + (1.0 - weight) * now_.current_a;
    const double miss = (1.0 - by_charge) * (i1 - lamps.current_a) + by_charge * (flow - lamps.charge_c / dt);
    const double miss_slope = (1.0 - by_charge) * (i1_slope - lamps.current_slope) +
                              by_charge * (weight * i1_slope - lamps.charge_slope / dt);
    (miss > 0.0 ? low : high) = v1;
    double v2 = miss_slope < 0.0 ? v1 - miss / miss_slope : v1;
    // where next to nothing flows at all, rounding ends the search before the last correction is small
    const double tolerance_v = accuracy_.node * path_.supply_peak_v;
    if (std::abs(v2 - v1) <= tolerance_v || std::abs(high - low) <= 1e-3 * tolerance_v) {
      trial.end.time_s = now_.time_s + dt;
      trial.end.supply_v = vs1;
      // The last correction is carried through: next to a path of milliohms a rest of microvolts would be seen.
      trial.end.terminal_v = v2;
      trial.end.current_a = i1 + i1_slope * (v2 - v1);
      vsw -= b / net_s * (v2 - v1);
      trial.end.switch_v = vsw;
      trial.end.switch_a = trial.end.current_a - shunt_s * vsw + shunt_a;
      if (path_.snubber_f > 0.0) {
        const double branch_a = (shunt_s - leak_s) * vsw - shunt_a;
        trial.snubber_v = snubber_v_ + branch_a * dt / path_.snubber_f;
      }
      trial.moved_v = v2 - v1;
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
  terminal_.add(now_.terminal_v - before.terminal_v, dt);
  current_.add(now_.current_a - before.current_a, dt);
  current_scale_a_ = std::max(current_scale_a_ * scale_memory, std::abs(now_.current_a));
  ++steps_since_event_;
}

void Network::run_to(double time_s, const Observer& observer) {
  while (time_s - now_.time_s > 1e-12) {
    const double left = time_s - now_.time_s;
    double dt = std::min(next_dt_s_, left);
    if (left - dt < least_step_s) dt = left;  // no sliver at the end
    const bool judged = steps_since_event_ >= settling_steps;
    const double guess_v = now_.terminal_v + (judged ? terminal_.ahead(dt) : 0.0);
    const Trial trial = solve(dt, guess_v);
    double error = trial.solved ? 0.0 : 100.0;
    if (trial.solved && judged) {
      const double off_a = std::abs(trial.end.current_a - now_.current_a - current_.ahead(dt));
      const double off_v = std::abs(trial.end.terminal_v - guess_v);
      error = std::max(off_a / (accuracy_.step * std::max(current_scale_a_, 1e-3)),
                       off_v / (accuracy_.step * path_.supply_peak_v));
      // A choke rings with the lamps' input capacitance for longer than anybody cares.
      const double loose = std::max(1.0, steps_since_event_ / accuracy_.close_steps);
      error /= loose * loose;
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
    accept(trial, dt);
    next_dt_s_ = std::clamp(dt * std::clamp(0.8 / std::sqrt(std::max(error, 1e-6)), 0.3, 1.8), least_step_s,
                            accuracy_.longest_step_s);
    if (!observer(before, now_)) return;
  }
}

}  // namespace lampload
