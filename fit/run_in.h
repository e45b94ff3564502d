#pragma once
// The state of a lamp that has been running on a record's first cycle for long.

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <vector>

#include "core/lamp/one_port.h"
#include "core/lamp/slow_state.h"
#include "fit/drive.h"

namespace lampload {

/// Runs over the first cycle again and again until the state repeats; where nothing repeats, over all of it.
/// advance(v0, v1, dt) takes `state` one step on; slow_s: time constants of slow states, 0 for the others.
template <class Advance>
void run_in(const Advance& advance, std::span<const StateSpec> specs, std::span<const double> slow_s,
            const DrivenCapture& drive, std::span<double> state) {
  std::vector<SlowState> slow(specs.size());
  std::vector<double> before(specs.size());
  const double cycle_s = drive.repeat_hz > 0.0 ? 1.0 / drive.repeat_hz : std::numeric_limits<double>::infinity();
  for (int pass = 0; pass < 150; ++pass) {
    std::copy(state.begin(), state.end(), before.begin());
    double time = 0.0;
    for (std::size_t k = 0; k < drive.blocks() && time < cycle_s; ++k) {
      advance(drive.voltage_v[drive.bounds[k]], drive.voltage_v[drive.bounds[k + 1]], drive.length_s(k));
      time += drive.length_s(k);
    }
    double change = 0.0;
    for (std::size_t s = 0; s < specs.size(); ++s) {
      double off = std::abs(state[s] - before[s]);
      if (slow_s[s] > 0.0) {
        state[s] = slow[s].next(before[s], state[s], time, slow_s[s]);
        off = slow[s].off();
      }
      change = std::max(change, off / specs[s].unit_size());
    }
    if (change < 1e-5) break;
  }
}

}  // namespace lampload
