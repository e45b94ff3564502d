#pragma once
// Wound things: a choke or ballast, a small motor, a transformer with its load.
//
//   o--[ Rs ]--(Ls)--+-------+          load law "":             the branch behind Ls is a short circuit
//                    |       |          load law "transformer":  as drawn, R2 referred to the primary
//                   (Lm)   [ R2 ]
//                    |       |
//   o----------------+-------+
//
// The core of Lm may saturate: beyond a flux linkage its inductance falls to a fiftieth.

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <vector>

#include "core/lamp/core_stretch.h"
#include "core/lamp/crossing.h"
#include "core/lamp/one_port.h"
#include "core/lamp/relaxation.h"
#include "core/lamp/schematic.h"

namespace lampload {

namespace inductive {

inline constexpr ParameterSpec series_resistance = {.name = "series_resistance_ohm",
                                                    .unit = "Ohm",
                                                    .meaning = "resistance of the winding",
                                                    .lower = 0.05,
                                                    .upper = 1e5,
                                                    .identified_by = "steady"};
inline constexpr ParameterSpec series_inductance = {.name = "series_inductance_h",
                                                    .unit = "H",
                                                    .meaning = "inductance in series; of a transformer, its leakage",
                                                    .lower = 1e-6,
                                                    .upper = 100.0,
                                                    .identified_by = "steady"};
inline constexpr StateSpec current = {
    .name = "current_a", .unit = "A", .lower = -1e5, .upper = 1e5, .rest = 0.0, .typical = 10.0};

/// Lag of the current behind the voltage, as reactive over active power, below which nothing tells a winding from a
/// resistance seen through a late clamp.
inline constexpr double least_lag = 0.1;

/// False where an uncut capture rules a winding out.
bool possible(const StartHints& hints);

}  // namespace inductive

/// Resistance and inductance in series.
struct SeriesInductive {
  static constexpr std::string_view name = "inductive";
  static constexpr std::string_view load_law = "";
  static constexpr double rarity = 5.0;  // chokes and fan motors on lighting channels; common practice, no source
  static constexpr Feed feed = Feed::mains;
  static constexpr std::array<ParameterSpec, 2> parameters = {inductive::series_resistance,
                                                              inductive::series_inductance};
  static constexpr std::array<SchematicPart, 3> schematic = {{
      {Symbol::resistor, Placement::in_series, {"series_resistance_ohm"}},
      {Symbol::inductor, Placement::in_series, {"series_inductance_h"}},
      {Symbol::wire, Placement::across, {}},
  }};
  static constexpr std::array<StateSpec, 1> states = {inductive::current};

  template <class T>
  class Model {
   public:
    explicit Model(std::span<const T> p) : resistance_(p[0]), per_henry_(1.0 / p[1]) {}

    Step<T> advance(std::array<T, 1>& state, const T& v0, const T& v1, double dt_s) const {
      const auto p = phi(T(-dt_s * resistance_ * per_henry_));
      const T start = (v0 - resistance_ * state[0]) * per_henry_ * dt_s;
      const T ramp = (v1 - v0) * per_henry_ * dt_s;
      const T charge = (state[0] + p.phi2 * start + p.phi3 * ramp) * dt_s;
      state[0] += p.phi1 * start + p.phi2 * ramp;
      return {state[0], charge};
    }

   private:
    T resistance_, per_henry_;
  };

  static std::vector<std::vector<double>> starts(const StartHints& hints);
  static std::vector<DerivedFigure> derived(std::span<const double> parameters, const OperatingPoint& at);
  /// Without a lag it is a resistance.
  static bool plausible(std::span<const double> parameters, std::span<const double> state, const OperatingPoint& at);
};

/// A transformer, or a motor in its usual equivalent circuit: magnetising inductance and load behind the leakage.
struct LoadedCore {
  static constexpr std::string_view name = "inductive";
  static constexpr std::string_view load_law = "transformer";
  static constexpr double rarity = 15.0;  // one that is no more than a plain winding must not win by chance
  static constexpr Feed feed = Feed::mains;
  /// Inductance beyond saturation over the one before. Air under the winding instead of iron: from memory, 1/20 to
  /// 1/1000.
  static constexpr double saturated_share = 0.02;
  static constexpr std::array<ParameterSpec, 5> parameters = {
      {[] {
         // A few per cent of what the terminals show.
         ParameterSpec spec = inductive::series_resistance;
         spec.model_sd = 0.055;
         return spec;
       }(),
       inductive::series_inductance,
       {.name = "magnetising_inductance_h",
        .unit = "H",
        .meaning = "inductance of the core",
        .lower = 1e-4,
        .upper = 1e3,
        .identified_by = "steady"},
       {.name = "secondary_resistance_ohm",
        .unit = "Ohm",
        .meaning = "load and core loss, referred to the primary",
        .lower = 0.5,
        .upper = 4e4,
        .identified_by = "steady"},
       {.name = "saturation_per_vs",
        .unit = "1/(V s)",
        .meaning = "one over the flux linkage at which the core saturates",
        .lower = 0.01,
        .upper = 1e3,
        .optional = true,
        .identified_by = "turn_on"}}};
  static constexpr std::array<SchematicPart, 4> schematic = {{
      {Symbol::resistor, Placement::in_series, {"series_resistance_ohm"}},
      {Symbol::inductor, Placement::in_series, {"series_inductance_h"}},
      {Symbol::inductor, Placement::across, {"magnetising_inductance_h", "saturation_per_vs"}},
      {Symbol::resistor, Placement::across, {"secondary_resistance_ohm"}},
  }};
  static constexpr std::array<StateSpec, 2> states = {{
      {.name = "flux_linkage_vs", .unit = "V s", .lower = -1e6, .upper = 1e6, .rest = 0.0, .typical = 10.0},
      inductive::current,
  }};

  template <class T>
  class Model {
   public:
    explicit Model(std::span<const T> p)
        : resistance_(p[0]),
          per_leakage_(1.0 / p[1]),
          per_magnetising_(1.0 / p[2]),
          secondary_(p[3]),
          saturates_(value_of(p[4]) > 0.0) {
      if (saturates_) knee_vs_ = 1.0 / p[4];
    }

    Step<T> advance(std::array<T, 2>& state, const T& v0, const T& v1, double dt_s) const {
      const T ramp = (v1 - v0) * (1.0 / dt_s);
      CoreState<T> x{state[0], state[1]};
      T height = v0;
      T charge(0.0);
      T left(dt_s);
      double side = saturates_ && std::abs(value_of(x.flux_vs)) > value_of(knee_vs_)
                        ? std::copysign(1.0, value_of(x.flux_vs))
                        : 0.0;
      bool armed = true;
      for (int i = 0; i < most_stretches && value_of(left) > 0.0; ++i) {
        const CoreStretch<T> stretch(x, network(side), height, ramp);
        const bool watched = saturates_ && i + 1 < most_stretches;
        const auto [spent, next_side] = watched ? cut(stretch, left, side, armed) : Cut{left, side};
        x = stretch.at(spent);
        charge += stretch.charge(spent);
        height += ramp * spent;
        left -= spent;
        side = next_side;
        armed = false;
        if (value_of(left) < 1e-12 * dt_s) break;
      }
      state = {x.flux_vs, x.current_a};
      return {state[1], charge};
    }

   private:
    // Flux passes a knee once a step, seldom both.
    static constexpr int most_stretches = 6;

    typename CoreStretch<T>::Network network(double side) const {
      if (side == 0.0) return {resistance_, per_leakage_, per_magnetising_, secondary_, T(0.0)};
      const T per_core = per_magnetising_ * (1.0 / saturated_share);
      return {resistance_, per_leakage_, per_core, secondary_, side * (per_magnetising_ - per_core) * knee_vs_};
    }

    struct Cut {
      T time;
      double side;  ///< that follows: +1 or -1 where the core is saturated, 0 between the knees
    };

    Cut cut(const CoreStretch<T>& stretch, const T& left, double side, bool armed) const {
      const auto numbers = stretch.numbers();
      double horizon = value_of(left);
      Cut out{left, side};
      for (const double way : {1.0, -1.0}) {
        if (side == way) continue;
        // beyond a knee on either side, or back from it
        const double outward = side == 0.0 ? way : -side;
        const double knee = side == 0.0 ? value_of(knee_vs_) : -value_of(knee_vs_);
        const auto f = [&](double t) {
          const Slope flux = numbers.flux_at(t);
          return Slope{outward * flux.value - knee, outward * flux.slope};
        };
        const auto t = rising_crossing(f, horizon, armed);
        if (!t || !(*t < horizon)) continue;
        const T beyond = outward * stretch.at(T(*t)).flux_vs + (side == 0.0 ? T(-knee_vs_) : knee_vs_);
        out = {with_derivatives(*t, beyond, f(*t).slope, horizon), side == 0.0 ? way : 0.0};
        horizon = *t;
      }
      return out;
    }

    T resistance_, per_leakage_, per_magnetising_, secondary_;
    bool saturates_;
    T knee_vs_{0.0};
  };

  static std::vector<std::vector<double>> starts(const StartHints& hints);
  static std::vector<DerivedFigure> derived(std::span<const double> parameters, const OperatingPoint& at);
  /// Without a lag it is a resistance.
  static bool plausible(std::span<const double> parameters, std::span<const double> state, const OperatingPoint& at);
};

}  // namespace lampload
