#pragma once
// A family driven by the measured voltage, seen through the instrument: what the fit compares with the measured
// current. Templated on the scalar: double for the residuals, ceres::Jet for their exact derivatives.

#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <utility>

#include "core/lamp/one_port.h"
#include "fit/drive.h"

namespace lampload {

/// Calls take(k, mean, end, state) for every block k in order: mean current of the block as the current channel shows
/// it, and the current at its end. The channel has one pole; its delay and offset are the caller's. `state` is that at
/// the beginning and is left at the end.
template <class Family, class T, class Take>
void simulate(const Drive& drive, std::span<const T> parameters, const T& time_constant_s,
              std::array<T, Family::states.size()>& state, Take&& take) {
  using std::exp;
  const typename Family::template Model<T> model(parameters);
  const auto at_bound = [&](std::size_t b) { return drive.voltage_v[drive.bounds[b]]; };
  // The models take the voltage as a straight line from bound to bound. Moved by a twelfth of their second difference,
  // the bounds' values give that line the mean of a curved voltage between them.
  double raw_before = at_bound(0);
  double raw = at_bound(1);
  double before = raw_before;
  T drawn(0.0);
  T shown(0.0);
  T decay(0.0);
  double decay_length = -1.0;
  for (std::size_t k = 0; k < drive.blocks(); ++k) {
    const double length = drive.length_s(k);
    double after = raw;
    if (k + 1 < drive.blocks()) {
      const double raw_after = at_bound(k + 2);
      const std::size_t samples = drive.bounds[k + 1] - drive.bounds[k];
      if (samples > 2 && samples == drive.coarse && samples == drive.bounds[k + 2] - drive.bounds[k + 1]) {
        after -= (raw_before - 2.0 * raw + raw_after) * (1.0 / 12.0);
      }
      raw_before = raw;
      raw = raw_after;
    }
    // A switch takes far less than a sample: a ramp over it would begin late on a lamp with a threshold, and end early.
    Step<T> step{};
    if (drive.step_s.empty() || drive.step_s[k] < 0.0) {
      step = model.advance(state, T(before), T(after), length);
    } else {
      const auto first = model.advance(state, T(before), T(before), drive.step_s[k]);
      step = model.advance(state, T(after), T(after), length - drive.step_s[k]);
      step.charge_c += first.charge_c;
    }
    before = after;
    const T mean = step.charge_c / length;
    if (length != decay_length) {
      decay = exp(-length / time_constant_s);
      decay_length = length;
    }
    if (k == 0) {
      drawn = drive.from_rest ? T(0.0) : step.current_a;
      shown = drawn;
    }
    // One pole fed with a current that goes straight from one end of the block to the other; what the mean has beyond
    // that line (a pulse inside the block) reaches the end only where the block is short. What the pole lags behind is
    // charge still to come.
    const T lag = (step.current_a - drawn) * (time_constant_s / length);
    const T beyond = mean - 0.5 * (drawn + step.current_a);
    const T next = step.current_a - lag + (shown - drawn + lag) * decay + beyond * (1.0 - decay) * decay;
    drawn = step.current_a;
    take(k, T(mean - (next - shown) * (time_constant_s / length)), next, std::as_const(state));
    shown = next;
  }
}

}  // namespace lampload
