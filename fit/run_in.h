#pragma once
// The state of a lamp that has been running on a record's first cycle for long.

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <span>

#include "core/lamp/one_port.h"
#include "core/lamp/slow_state.h"
#include "fit/drive.h"

namespace lampload {

/// Runs over the first cycle again and again until the state repeats; where nothing repeats, over all of it.
template <class Family>
void run_in(const typename Family::template Model<double>& model, std::span<const double> values,
            const DrivenCapture& drive, std::array<double, Family::states.size()>& state) {
  std::array<SlowState, Family::states.size()> slow;
  const double cycle_s = drive.repeat_hz > 0.0 ? 1.0 / drive.repeat_hz : std::numeric_limits<double>::infinity();
  for (int pass = 0; pass < 150; ++pass) {
    const std::array<double, Family::states.size()> before = state;
    double time = 0.0;
    for (std::size_t k = 0; k < drive.blocks() && time < cycle_s; ++k) {
      model.advance(state, drive.voltage_v[drive.bounds[k]], drive.voltage_v[drive.bounds[k + 1]], drive.length_s(k));
      time += drive.length_s(k);
    }
    double change = 0.0;
    for (std::size_t s = 0; s < Family::states.size(); ++s) {
      const StateSpec& spec = Family::states[s];
      const double slow_s = slow_time_s(spec, Family::parameters, values);
      double off = std::abs(state[s] - before[s]);
      if (slow_s > 0.0) {
        state[s] = slow[s].next(before[s], state[s], time, slow_s);
        off = slow[s].off();
      }
      change = std::max(change, off / spec.unit_size());
    }
    if (change < 1e-5) break;
  }
}

}  // namespace lampload
