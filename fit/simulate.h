#pragma once
// A family driven by the measured voltage, seen through the instrument: what the fit compares with the measured
// current. Templated on the scalar: double for the residuals, ceres::Jet for their exact derivatives.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <utility>

#include "core/lamp/dual.h"
#include "fit/drive.h"

namespace lampload {

/// The current channel: one pole of bandwidth, and a delay against the voltage channel. The offset is added by the
/// caller.
template <class T>
struct Instrument {
  T time_constant_s;
  T delay_s;  ///< how much later the current channel shows an event
};

/// The voltage between samples, on a time axis in samples. Beyond the ends it holds its last value.
template <class T>
T voltage_at(std::span<const double> voltage, const T& position) {
  const double last = static_cast<double>(voltage.size() - 1);
  const double place = std::clamp(value_of(position), 0.0, last);
  const auto k = std::min(static_cast<std::size_t>(place), voltage.size() - 2);
  if (place != value_of(position)) return T(place == 0.0 ? voltage.front() : voltage.back());
  return voltage[k] + (position - static_cast<double>(k)) * (voltage[k + 1] - voltage[k]);
}

/// Calls take(k, mean, end, state) for every block k in order: mean current of the block as the current channel shows
/// it, and the current at its end. `state` is that at the beginning and is left at the end.
template <class Family, class T, class Take>
void simulate(const Drive& drive, std::span<const T> parameters, const Instrument<T>& instrument,
              std::array<T, Family::states.size()>& state, Take&& take) {
  using std::exp;
  const typename Family::template Model<T> model(parameters);
  const T shift = instrument.delay_s / drive.dt_s;
  T before = voltage_at(drive.voltage_v, T(static_cast<double>(drive.bounds[0])) - shift);
  T drawn(0.0);
  T shown(0.0);
  T decay(0.0);
  double decay_length = -1.0;
  for (std::size_t k = 0; k < drive.blocks(); ++k) {
    const double length = drive.length_s(k);
    const T after = voltage_at(drive.voltage_v, T(static_cast<double>(drive.bounds[k + 1])) - shift);
    const auto step = model.advance(state, before, after, length);
    before = after;
    const T mean = step.charge_c / length;
    if (length != decay_length) {
      decay = exp(-length / instrument.time_constant_s);
      decay_length = length;
    }
    if (k == 0) {
      drawn = drive.from_rest ? T(0.0) : step.current_a;
      shown = drawn;
    }
    // One pole fed with a current that goes straight from one end of the block to the other; what the mean has beyond
    // that line (a pulse inside the block) reaches the end only where the block is short. What the pole lags behind is
    // charge still to come.
    const T lag = (step.current_a - drawn) * (instrument.time_constant_s / length);
    const T beyond = mean - 0.5 * (drawn + step.current_a);
    const T next = step.current_a - lag + (shown - drawn + lag) * decay + beyond * (1.0 - decay) * decay;
    drawn = step.current_a;
    take(k, T(mean - (next - shown) * (instrument.time_constant_s / length)), next, std::as_const(state));
    shown = next;
  }
}

}  // namespace lampload
