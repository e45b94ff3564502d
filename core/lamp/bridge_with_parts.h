#pragma once
// The bridge rectifier with what only some lamps have: an inrush limiter in series, a damper across the terminals.

#include <array>
#include <cmath>
#include <optional>
#include <span>

#include "core/lamp/bridge.h"
#include "core/lamp/damper.h"
#include "core/lamp/inrush_limiter.h"

namespace lampload {

/// The model behind RectifierCapacitor with all of its parts. Parameters: those of BridgeModel, then the limiter's and
/// the damper's; states likewise. A lamp without them is stepped as the bridge alone. One thread a model.
template <class T, class Load>
class BridgeWithParts {
 public:
  static constexpr std::size_t bridge_parameters = 6 + Load::parameters.size();
  static constexpr std::size_t first_damper = bridge_parameters + ntc::parameters.size();

  explicit BridgeWithParts(std::span<const T> p)
      : bridge_(p.first(bridge_parameters)), series_ohm_(p[0]), input_capacitance_(p[2]) {
    const auto limiter = p.subspan(bridge_parameters, ntc::parameters.size());
    const auto branch = p.subspan(first_damper, damper::parameters.size());
    if (value_of(limiter[0]) > 0.0) limiter_.emplace(limiter[0], limiter[1], limiter[2], limiter[3]);
    if (value_of(branch[0]) > 0.0) damper_.emplace(branch[0], branch[1]);
  }

  Step<T> advance(std::array<T, 4>& state, const T& v0, const T& v1, double dt_s) const {
    std::array<T, 2> core{state[0], state[1]};
    Step<T> step = limiter_ ? limited(core, state[2], v0, v1, dt_s) : bridge_.advance(core, v0, v1, dt_s);
    state[0] = core[0];
    state[1] = core[1];
    if (damper_) {
      const Step<T> beside = damper_->advance(state[3], v0, v1, dt_s);
      step.current_a += beside.current_a;
      step.charge_c += beside.charge_c;
    }
    return step;
  }

 private:
  /// The limiter's resistance is that in the middle of the step.
  Step<T> limited(std::array<T, 2>& core, T& temperature_k, const T& v0, const T& v1, double dt_s) const {
    const std::array<T, 2> before = core;
    const T start_k = temperature_k;
    bool flows = false;
    const auto step_at = [&](const T& middle_k) {
      core = before;
      bridge_.set_series_resistance(series_ohm_ + limiter_->resistance_ohm(middle_k));
      const Step<T> step = bridge_.advance(core, v0, v1, dt_s);
      const T mean_a = (step.charge_c - input_capacitance_ * (v1 - v0)) * (1.0 / dt_s);
      const T square = mean_square(before[1], core[1], mean_a);
      flows = value_of(square) > 1e-18;
      temperature_k = limiter_->warmed(start_k, square, dt_s);
      return step;
    };
    const Step<T> first = step_at(start_k);
    return flows ? step_at(T(0.5 * (start_k + temperature_k))) : first;
  }

  mutable BridgeModel<T, Load> bridge_;  // its series resistance is that of the step
  T series_ohm_, input_capacitance_;
  std::optional<InrushLimiter<T>> limiter_;
  std::optional<Damper<T>> damper_;
};

}  // namespace lampload
