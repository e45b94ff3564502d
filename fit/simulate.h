#pragma once
// A family driven by the measured voltage, seen through the instrument: what the fit compares with the measured
// current. Templated on the scalar: double for the residuals, ceres::Jet for their exact derivatives.

#include <array>
#include <cstddef>
#include <span>
#include <utility>

#include "core/lamp/one_port.h"
#include "fit/drive.h"
#include "fit/one_pole.h"

namespace lampload {

/// What is simulated while a lamp has none of its family's parts.
template <class Family>
struct PlainOf {
  using Type = Family;
};
template <class Family>
requires requires { typename Family::Plain; }
struct PlainOf<Family> {
  using Type = typename Family::Plain;
};

/// Calls take(k, share, mean, end, state) for every step of every block k in order: which share of the block has passed
/// with it, its mean current as the current channel shows it, and the current at its end. The channel has one pole; its
/// delay and offset are the caller's. line_v: voltage at the bounds (DrivenCapture::line_v or another). `state` is that
/// at the beginning and is left at the end.
template <class Family, class T, class Take>
void simulate(const DrivenCapture& drive, std::span<const double> line_v, std::span<const T> parameters,
              const T& time_constant_s, std::array<T, Family::states.size()>& state, Take&& take) {
  const typename Family::template Model<T> model(parameters);
  OnePole<T> channel(time_constant_s);
  const auto advance = [&](double from, double to, double length) {
    if constexpr (requires { model.advance(state, from, to, length); }) {
      return model.advance(state, from, to, length);
    } else {
      return model.advance(state, T(from), T(to), length);
    }
  };
  bool started = false;
  for (std::size_t k = 0; k < drive.blocks(); ++k) {
    const double length = drive.length_s(k);
    const double before = line_v[k];
    const double after = line_v[k + 1];
    const auto pass = [&](double share, const Step<T>& step, double length_s) {
      if (k == 0 && !started && !drive.from_rest) channel.start(step.current_a);
      started = true;
      const T seen = channel.pass(step.charge_c * (1.0 / length_s), step.current_a, length_s);
      take(k, share, seen, channel.shown_a(), std::as_const(state));
    };
    // A switch takes far less than a sample: a ramp over it would begin late on a lamp with a threshold, and end early.
    if (!drive.step_s.empty() && drive.step_s[k] >= 0.0) {
      const auto first = advance(before, before, drive.step_s[k]);
      auto step = advance(after, after, length - drive.step_s[k]);
      step.charge_c += first.charge_c;
      pass(1.0, step, length);
      continue;
    }
    const std::size_t steps = drive.steps[k];
    double from = before;
    for (std::size_t n = 1; n <= steps; ++n) {
      const double share = static_cast<double>(n) / static_cast<double>(steps);
      const double to = n == steps ? after : before + share * (after - before);
      const double each = length / static_cast<double>(steps);
      pass(share, advance(from, to, each), each);
      from = to;
    }
  }
}

}  // namespace lampload
