#pragma once
// What hangs on the bus behind a rectifier, as a current that depends on the bus voltage. Each law has one threshold
// voltage with a different behaviour below and above it:
//
//   struct Load {
//     static constexpr std::string_view load_law;
//     static constexpr std::array<ParameterSpec, P> parameters;
//     static constexpr std::array<SchematicPart, N> schematic;                    // see schematic.h
//     static bool plausible(std::span<const double> parameters, double crest_v);  // or only a mimic of another load?
//     static constexpr std::string_view light_law;                                // see one_port.h
//     static double light(std::span<const double> parameters, double bus_v);      // where there is a law
//     static constexpr bool curved;  // is the current above the threshold curved in the voltage?
//     template <class T> class Law {
//       explicit Law(std::span<const T> parameters);
//       T threshold_v() const;
//       T threshold_a() const;                              // current there, the same from both sides
//       Tangent<T> below() const;                           // straight lines from 0 V
//       Tangent<T> above(const T& open_v, const T& source_ohm) const;  // tangent where the load meets a source
//       // curved laws only:
//       Draw<P> draw(double open_v, double source_ohm) const;
//       double straight_v(double bus_v, double current_a) const;  // the tangent errs by the current times
//                                                                 // (change of voltage / this) squared, about
//       const T& parameter<I>() const;
//     };
//   };

#include <array>
#include <cmath>
#include <span>
#include <string_view>

#include "core/lamp/chain.h"
#include "core/lamp/dual.h"
#include "core/lamp/one_port.h"
#include "core/lamp/schematic.h"

namespace lampload {

/// Load current as a straight line: offset_a + slope_s * bus voltage.
template <class T>
struct Tangent {
  T offset_a;
  T slope_s;
};

/// What a curved load of P parameters takes from a source of open_v behind source_ohm, with derivatives, for inner
/// loops.
template <std::size_t P>
struct Draw {
  bool stable = false;  ///< is there a bus voltage at which the source carries the load, with room to spare?
  double bus_v = 0.0, bus_slope = 1.0;    ///< bus voltage; its slope by open_v
  double current_a = 0.0, slope_s = 0.0;  ///< current; its slope by open_v
  double current_by_source = 0.0;         ///< slopes of the current ...
  std::array<double, P> current_by{};     ///< ... by source_ohm and the parameters
  double slope_by_open = 0.0, slope_by_source = 0.0;
  std::array<double, P> slope_by{};  ///< slopes of slope_s
};

/// Converters and regulators for mains start to work once the bus has risen to some tens of volt, and stop when it
/// falls below. Beneath this bus voltage constant-power and constant-current loads behave as the resistance that joins
/// up with them: a turn-on shows whether such loads draw a large current from an empty bus. Common practice, no source.
inline constexpr double undervoltage_v = 50.0;

/// A switching converter: current falls as the bus rises.
struct ConstantPowerLoad {
  static constexpr std::string_view load_law = "constant_power";
  static constexpr std::array<ParameterSpec, 1> parameters = {{
      {.name = "load_power_w",
       .unit = "W",
       .meaning = "power drawn from the reservoir",
       .lower = 0.05,
       .upper = 2000.0,
       .model_sd = 0.015,
       .identified_by = "steady"},
  }};
  static constexpr std::array<SchematicPart, 1> schematic = {{
      {Symbol::converter, Placement::across, {"load_power_w"}},
  }};
  static constexpr bool curved = true;
  static bool plausible(std::span<const double> /*p*/, double /*crest_v*/) { return true; }
  static constexpr std::string_view light_law = "in proportion to the power of the converter, none below its lock-out";
  static double light(std::span<const double> p, double bus_v) { return bus_v > undervoltage_v ? p[0] : 0.0; }

  template <class T>
  class Law {
   public:
    explicit Law(std::span<const T> p) : power_w_(p[0]) {}
    T threshold_v() const { return T(undervoltage_v); }
    T threshold_a() const { return power_w_ * (1.0 / undervoltage_v); }
    Tangent<T> below() const { return {T(0.0), power_w_ * (1.0 / (undervoltage_v * undervoltage_v))}; }
    Tangent<T> above(const T& open_v, const T& source_ohm) const {
      using std::sqrt;
      const T room = open_v * open_v - 4.0 * source_ohm * power_w_;
      const T bus_v = value_of(source_ohm) > 0.0 && value_of(room) > 0.0 ? T(0.5 * (open_v + sqrt(room))) : open_v;
      T current_a = power_w_ / bus_v;
      T slope_s = -current_a / bus_v;
      // no stable bus behind so much resistance: hold the slope at what the source can follow
      if (value_of(slope_s) * value_of(source_ohm) < -0.5) slope_s = -0.5 / source_ohm;
      return {current_a - slope_s * bus_v, slope_s};
    }
    [[nodiscard]] Draw<1> draw(double open_v, double source_ohm) const {
      const double power = value_of(power_w_);
      const double room = open_v * open_v - 4.0 * source_ohm * power;
      if (!(room > 0.25 * open_v * open_v)) return {};
      const double root = std::sqrt(room);
      const double bus = 0.5 * (open_v + root);
      const double current = power / bus;
      const double slope = -current / root;
      // relative slopes of bus and root, which the current (P / bus) and its slope (-P / (bus root)) follow
      struct Relative {
        double bus, root;
      };
      const Relative by_open{1.0 / root, open_v / root / root};
      const Relative by_source{-power / root / bus, -2.0 * power / root / root};
      const Relative by_power{-source_ohm / root / bus, -2.0 * source_ohm / root / root};
      return {.stable = true,
              .bus_v = bus,
              .bus_slope = bus / root,
              .current_a = current,
              .slope_s = slope,
              .current_by_source = -current * by_source.bus,
              .current_by = {current * (1.0 / power - by_power.bus)},
              .slope_by_open = -slope * (by_open.bus + by_open.root),
              .slope_by_source = -slope * (by_source.bus + by_source.root),
              .slope_by = {slope * (1.0 / power - by_power.bus - by_power.root)}};
    }
    [[nodiscard]] double straight_v(double bus_v, double /*current_a*/) const { return bus_v; }
    template <std::size_t>
    const T& parameter() const {
      return power_w_;
    }

   private:
    T power_w_;
  };
};

/// A linear regulator: current does not depend on the bus.
struct ConstantCurrentLoad {
  static constexpr std::string_view load_law = "constant_current";
  static constexpr std::array<ParameterSpec, 1> parameters = {{
      {.name = "load_current_a",
       .unit = "A",
       .meaning = "current drawn from the reservoir",
       .lower = 1e-4,
       .upper = 20.0,
       .identified_by = "steady"},
  }};
  static constexpr std::array<SchematicPart, 1> schematic = {{
      {Symbol::current_source, Placement::across, {"load_current_a"}},
  }};
  static constexpr bool curved = false;
  static bool plausible(std::span<const double> /*p*/, double /*crest_v*/) { return true; }
  /// None: the voltage that its LEDs need is not in the circuit.
  static constexpr std::string_view light_law = "";

  template <class T>
  class Law {
   public:
    explicit Law(std::span<const T> p) : current_a_(p[0]) {}
    T threshold_v() const { return T(undervoltage_v); }
    T threshold_a() const { return current_a_; }
    Tangent<T> below() const { return {T(0.0), current_a_ * (1.0 / undervoltage_v)}; }
    Tangent<T> above(const T& /*open_v*/, const T& /*source_ohm*/) const { return {current_a_, T(0.0)}; }

   private:
    T current_a_;
  };
};

/// A string of LEDs through a resistor. The string's exponential curve is part of the law: with w = knee_share *
/// string_voltage_v, and the working current Iw = working_share * w / string_resistance_ohm,
///   v = string_voltage_v + string_resistance_ohm * i + w * (ln(i / Iw) - (i / Iw - 1)),
/// whose tangent at the working current is the line of the two parameters. In u = i / Iw:
///   (v - string_voltage_v) / w = (working_share - 1) u + ln u + 1.
/// Below a bus voltage at which next to nothing flows the string is the resistance that joins up there.
struct LedStringLoad {
  static constexpr std::string_view load_law = "led_string";
  static constexpr std::array<ParameterSpec, 2> parameters = {{
      {.name = "string_voltage_v",
       .unit = "V",
       .meaning = "where the string's working line meets no current",
       .lower = 1.0,
       .upper = 450.0,
       .identified_by = "leading_edge"},
      {.name = "string_resistance_ohm",
       .unit = "Ohm",
       .meaning = "slope of the string with what is in series with it",
       .lower = 0.1,
       .upper = 1e5,
       .model_sd = 0.1,
       .identified_by = "steady"},
  }};
  static constexpr std::array<SchematicPart, 2> schematic = {{
      {Symbol::resistor, Placement::across, {"string_resistance_ohm"}},
      {Symbol::led_string, Placement::with_previous, {"string_voltage_v"}},
  }};
  static constexpr bool curved = true;
  /// A string far below the crest is a mere resistance.
  static bool plausible(std::span<const double> p, double crest_v) { return p[0] >= 0.2 * crest_v; }
  static constexpr std::string_view light_law = "in proportion to the current of the LEDs";
  static double light(std::span<const double> p, double bus_v) {
    const Law<double> law(p);
    if (bus_v <= law.threshold_v()) return 0.0;
    const Tangent<double> line = law.above(bus_v, 0.0);
    return line.offset_a + line.slope_s * bus_v;
  }

  /// Share of the forward voltage within which the current grows by e: ideality 2 times kT/q at a warm junction
  /// (0.030 V at 350 K), over the 3 V of a white LED. Both figures common practice, no source.
  static constexpr double knee_share = 0.02;
  /// At the working current the bus stands knee_share * working_share above the string's voltage.
  static constexpr double working_share = 8.0;

  template <class T>
  class Law {
   public:
    explicit Law(std::span<const T> p)
        : voltage_v_(p[0]),
          resistance_ohm_(p[1]),
          inverse_knee_(1.0 / (knee_share * p[0])),
          conductance_s_(1.0 / p[1]),
          working_a_(working_share * knee_share * p[0] * conductance_s_) {}
    T threshold_v() const {
      return voltage_v_ * (1.0 + knee_share * ((working_share - 1.0) * least_u + std::log(least_u) + 1.0));
    }
    T threshold_a() const { return least_u * working_a_; }
    Tangent<T> below() const { return {T(0.0), threshold_a() / threshold_v()}; }
    Tangent<T> above(const T& open_v, const T& source_ohm) const {
      const T steepness = working_share * (1.0 + source_ohm * conductance_s_) - 1.0;
      const T height = (open_v - voltage_v_) * inverse_knee_ - 1.0;
      const double u = solve(value_of(steepness), value_of(height));
      const double by_height = u / (1.0 + value_of(steepness) * u);
      const T share = chain(u, Partial<T>{by_height, height}, Partial<T>{-u * by_height, steepness});
      const T current_a = share * working_a_;
      const T slope_s = working_share * conductance_s_ * share / (1.0 + (working_share - 1.0) * share);
      return {current_a - slope_s * (open_v - source_ohm * current_a), slope_s};
    }
    [[nodiscard]] Draw<2> draw(double open_v, double source_ohm) const {
      const double volt = value_of(voltage_v_);
      const double inverse_knee = value_of(inverse_knee_);
      const double conductance = value_of(conductance_s_);
      const double steepness = working_share * (1.0 + source_ohm * conductance) - 1.0;
      const double u = solve(steepness, (open_v - volt) * inverse_knee - 1.0);
      const double inverse = 1.0 / (1.0 + steepness * u);
      const double by_height = u * inverse;
      const double scale = working_share * conductance;  // working current over knee
      const double current = u * value_of(working_a_);
      const double slope = scale * by_height;
      // of by_height = u / (1 + steepness u)
      const double bend = by_height * inverse * inverse;
      const double bend_by_steepness = -u * (by_height + u) * inverse * inverse;
      return {.stable = true,
              .bus_v = open_v - source_ohm * current,
              .bus_slope = 1.0 - source_ohm * slope,
              .current_a = current,
              .slope_s = slope,
              .current_by_source = -current * slope,
              .current_by = {(current - slope * open_v) / volt, current * conductance * (slope * source_ohm - 1.0)},
              .slope_by_open = scale * bend * inverse_knee,
              .slope_by_source = scale * scale * bend_by_steepness,
              .slope_by = {-scale * bend * inverse_knee * open_v / volt,
                           -conductance * (slope + scale * scale * bend_by_steepness * source_ohm)}};
    }
    [[nodiscard]] double straight_v(double /*bus_v*/, double current_a) const {
      const double u = current_a / value_of(working_a_);
      const double steep = 1.0 + (working_share - 1.0) * u;
      return std::sqrt(2.0 * steep * steep * steep) / value_of(inverse_knee_);
    }
    template <std::size_t I>
    const T& parameter() const {
      return I == 0 ? voltage_v_ : resistance_ohm_;
    }

   private:
    /// Share of the working current below which the string counts as a resistance: as much as a discharge resistor
    /// takes.
    static constexpr double least_u = 0.004;

    /// The u > 0 with steepness * u + ln u = height, to rounding.
    static double solve(double steepness, double height) {
      double u = height > 1.0 ? (height - std::log(height / steepness)) / steepness
                              : std::exp(height) / (1.0 + steepness * std::exp(height));
      for (int i = 0; i < 20; ++i) {
        const double next = u * (1.0 + height - std::log(u)) / (1.0 + steepness * u);
        const bool done = std::abs(next - u) < 1e-5 * u;  // twice as many digits hold after it
        u = next;
        if (done) break;
      }
      return u;
    }

    T voltage_v_, resistance_ohm_, inverse_knee_, conductance_s_, working_a_;
  };
};

}  // namespace lampload
