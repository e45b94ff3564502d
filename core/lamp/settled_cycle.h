#pragma once
// A lamp alone on the mains, run until its cycles repeat: where rated figures come from.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>

#include "core/lamp/one_port.h"
#include "core/lamp/slow_state.h"

namespace lampload {

/// One cycle; its states are those at the zero crossings unless said otherwise.
template <std::size_t States>
struct SettledCycle {
  double power_w = 0.0;
  double current_rms_a = 0.0;
  double power_factor = 0.0;  ///< 0 without current
  std::array<double, States> state{}, mean{}, lowest{}, highest{};
};

/// On a sine of the operating point's voltage, or on its DC. start: the states to begin with. slow_time_s: time
/// constants of slow states (slow_state.h), 0 for the others.
template <class Model, std::size_t States>
SettledCycle<States> settled_cycle(const Model& model, const std::array<double, States>& start,
                                   const OperatingPoint& at, const std::array<double, States>& slow_time_s = {}) {
  constexpr int steps = 400;
  constexpr int most_cycles = 400;
  constexpr double repeats = 1e-7;  // of a state's largest magnitude
  const bool dc = at.frequency_hz <= 0.0;
  const double dt_s = 1.0 / (dc ? 50.0 : at.frequency_hz) / steps;
  std::array<double, steps + 1> voltage;
  for (int n = 0; n <= steps; ++n) {
    voltage[static_cast<std::size_t>(n)] =
        at.voltage_v * (dc ? 1.0 : std::numbers::sqrt2 * std::sin(2.0 * std::numbers::pi * n / steps));
  }
  SettledCycle<States> cycle;
  cycle.state = start;
  std::array<SlowState, States> slow;
  for (int run = 0; run < most_cycles; ++run) {
    const std::array<double, States> before = cycle.state;
    double energy_j = 0.0, square = 0.0;
    cycle.lowest = cycle.highest = cycle.state;
    cycle.mean = {};
    for (std::size_t n = 0; n < steps; ++n) {
      const std::array<double, States> last = cycle.state;
      const auto step = model.advance(cycle.state, voltage[n], voltage[n + 1], dt_s);
      energy_j += 0.5 * (voltage[n] + voltage[n + 1]) * step.charge_c;
      square += step.charge_c * step.charge_c / dt_s;
      for (std::size_t s = 0; s < States; ++s) {
        cycle.mean[s] += 0.5 * (last[s] + cycle.state[s]) / steps;
        cycle.lowest[s] = std::min(cycle.lowest[s], cycle.state[s]);
        cycle.highest[s] = std::max(cycle.highest[s], cycle.state[s]);
      }
    }
    cycle.power_w = energy_j / (steps * dt_s);
    cycle.current_rms_a = std::sqrt(square / (steps * dt_s));
    bool settled = true;
    for (std::size_t s = 0; s < States; ++s) {
      const double size = std::max(std::abs(cycle.lowest[s]), std::abs(cycle.highest[s]));
      double off = std::abs(cycle.state[s] - before[s]);
      double next = cycle.state[s];
      if (slow_time_s[s] > 0.0) {
        next = slow[s].next(before[s], cycle.state[s], steps * dt_s, slow_time_s[s]);
        off = slow[s].off();
      }
      settled = settled && off <= repeats * size;
      cycle.state[s] = next;
    }
    if (settled) break;
  }
  const double apparent = at.voltage_v * cycle.current_rms_a;
  cycle.power_factor = apparent > 0.0 ? cycle.power_w / apparent : 0.0;
  return cycle;
}

}  // namespace lampload
