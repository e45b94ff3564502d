#pragma once
// A family's simulations over the captures of a fit: from the vector of all unknowns to the current that the channel
// shows, with derivatives or without.

#include <ceres/jet.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <type_traits>
#include <vector>

#include "fit/drive.h"
#include "fit/lamp_residuals.h"
#include "fit/shown_current.h"
#include "fit/simulate.h"

namespace lampload {

template <class Family>
class FamilyRuns {
 protected:
  static constexpr std::size_t parameters = Family::parameters.size();
  static constexpr std::size_t states = Family::states.size();
  static constexpr std::size_t own = 2 + states;  ///< unknowns of one capture: offset, delay, start states
  /// What is simulated while the lamp has none of the family's parts: fewer derivatives.
  using Plain = typename PlainOf<Family>::Type;
  static constexpr bool has_parts = Plain::parameters.size() < parameters;
  /// Derivatives by parameters, bandwidth and start states; an even number, since two fill a register.
  template <class Variant>
  using JetOf =
      ceres::Jet<double, static_cast<int>((Variant::parameters.size() + 1 + Variant::states.size() + 1) / 2 * 2)>;

  explicit FamilyRuns(const std::vector<DrivenCapture>& drives) : drives_(drives) {}
  ~FamilyRuns() = default;

  static std::size_t capture_base(std::size_t c) { return parameters + 1 + c * own; }
  static double offset(std::span<const double> full, std::size_t c) { return full[capture_base(c)]; }
  static double delay_s(std::span<const double> full, std::size_t c) {
    return full[capture_base(c) + 1] * delay_scale_s;
  }

  /// An unknown's coordinate as a scalar that carries, where it is free, the derivative slot `slot` of its capture's
  /// Jets.
  template <class T>
  T seeded(std::span<const double> full, std::size_t unknown, std::size_t slot) const {
    if constexpr (std::is_same_v<T, double>) {
      return full[unknown];
    } else {
      return column_[unknown] < 0 ? T(full[unknown]) : T(full[unknown], static_cast<int>(slot));
    }
  }

  template <class T>
  std::vector<T> lamp_values(std::span<const double> full, std::size_t count = parameters) const {
    using std::exp;
    std::vector<T> values;
    for (std::size_t j = 0; j < count; ++j) {
      const ParameterSpec& spec = Family::parameters[j];
      const T coordinate = seeded<T>(full, j, j);
      // A left-out optional parameter has no logarithm: it stands as its absent value.
      if (spec.logarithmic) {
        values.push_back(std::isinf(full[j]) ? T(spec.absent) : T(exp(coordinate)));
      } else {
        values.push_back(coordinate * spec.scale);
      }
    }
    return values;
  }

  /// Has the lamp any of the parts that Plain lacks?
  static bool with_parts(std::span<const double> full) {
    for (std::size_t j = Plain::parameters.size(); j < parameters; ++j) {
      if (!std::isinf(full[j])) return true;
    }
    return false;
  }

  /// Calls take(ShownBlock) for every block in order, and after_block(k, state) as it is simulated.
  template <class Variant, class T, class Take, class After>
  void run_variant(std::span<const double> full, std::size_t c, const DrivenCapture& drive,
                   std::span<const double> line_v, Take&& take, After&& after_block) const {
    using std::exp;
    constexpr std::size_t lamp = Variant::parameters.size();
    const std::vector<T> values = lamp_values<T>(full, lamp);
    const std::size_t base = capture_base(c);
    const T time_constant_s = exp(seeded<T>(full, parameters, lamp));
    std::array<T, Variant::states.size()> state;
    for (std::size_t s = 0; s < state.size(); ++s) {
      state[s] = drive.from_rest ? T(Family::states[s].rest)
                                 : T(seeded<T>(full, base + 2 + s, lamp + 1 + s) * Family::states[s].unit_size());
    }
    ShownCurrent<T> shown(drive.bounds, delay_s(full, c) / drive.dt_s);
    simulate<Variant, T>(drive, line_v, values, time_constant_s, state,
                         [&](std::size_t k, double share, const T& mean, const T& end, const auto& now) {
                           if (!shown.begun()) shown.begin(drive.from_rest ? T(0.0) : end);
                           if (share < 1.0) return shown.add_part(share, mean, end);
                           shown.add(mean, end, take);
                           after_block(k, now);
                         });
    shown.finish(take);
  }

  template <class Take>
  void run(std::span<const double> full, std::size_t c, const DrivenCapture& drive, Take&& take) const {
    run(full, c, drive, drive.line_v, take);
  }

  /// The same with another voltage at the bounds.
  template <class Take>
  void run(std::span<const double> full, std::size_t c, const DrivenCapture& drive, std::span<const double> line_v,
           Take&& take) const {
    run(full, c, drive, line_v, take, [](std::size_t, const auto&) {});
  }

  template <class Take, class After>
  void run(std::span<const double> full, std::size_t c, const DrivenCapture& drive, std::span<const double> line_v,
           Take&& take, After&& after_block) const {
    if constexpr (has_parts) {
      if (with_parts(full)) return run_variant<Family, double>(full, c, drive, line_v, take, after_block);
    }
    run_variant<Plain, double>(full, c, drive, line_v, take, after_block);
  }

  const std::vector<DrivenCapture>& drives_;
  std::vector<std::ptrdiff_t> column_;  ///< of each unknown among the free ones; negative: not free
};

}  // namespace lampload
