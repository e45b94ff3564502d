#pragma once
// What hangs on the bus behind a rectifier, as a current that depends on the bus voltage. Each law has one threshold
// voltage with a different behaviour below and above it:
//
//   struct Load {
//     static constexpr std::string_view load_law;
//     static constexpr std::array<ParameterSpec, P> parameters;
//     static constexpr bool curved;                         // is the current above the threshold curved in the
//     voltage? template <class T> class Law {
//       explicit Law(std::span<const T> parameters);
//       T threshold_v() const;
//       T threshold_a() const;                              // current there, the same from both sides
//       Tangent<T> below() const;                           // straight lines from 0 V
//       Tangent<T> above(const T& open_v, const T& source_ohm) const;  // tangent where the load meets a source
//     };
//   };

#include <array>
#include <cmath>
#include <span>
#include <string_view>

#include "core/lamp/dual.h"
#include "core/lamp/one_port.h"

namespace lampload {

/// Load current as a straight line: offset_a + slope_s * bus voltage.
template <class T>
struct Tangent {
  T offset_a;
  T slope_s;
};

/// Converters stop regulating when their supply is gone. Below this bus voltage constant-power and constant-current
/// loads behave as the resistance that joins up with them. Own choice: any value far below the working range will do.
inline constexpr double undervoltage_v = 20.0;

/// A switching converter: current falls as the bus rises.
struct ConstantPowerLoad {
  static constexpr std::string_view load_law = "constant_power";
  static constexpr std::array<ParameterSpec, 1> parameters = {{
      {.name = "load_power_w",
       .unit = "W",
       .meaning = "power drawn from the reservoir",
       .lower = 0.05,
       .upper = 2000.0,
       .identified_by = "steady"},
  }};
  static constexpr bool curved = true;

  template <class T>
  class Law {
   public:
    explicit Law(std::span<const T> p) : power_w_(p[0]) {}
    T threshold_v() const { return T(undervoltage_v); }
    T threshold_a() const { return power_w_ * (1.0 / undervoltage_v); }
    const T& power() const { return power_w_; }
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
  static constexpr bool curved = false;

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

/// A string of LEDs through a resistor: nothing below the string's voltage.
struct LedStringLoad {
  static constexpr std::string_view load_law = "led_string";
  static constexpr std::array<ParameterSpec, 2> parameters = {{
      {.name = "string_voltage_v",
       .unit = "V",
       .meaning = "voltage at which the string begins to conduct",
       .lower = 1.0,
       .upper = 450.0,
       .identified_by = "leading_edge"},
      {.name = "string_resistance_ohm",
       .unit = "Ohm",
       .meaning = "resistance in series with the string",
       .lower = 0.1,
       .upper = 1e5,
       .identified_by = "steady"},
  }};
  static constexpr bool curved = false;

  template <class T>
  class Law {
   public:
    explicit Law(std::span<const T> p) : voltage_v_(p[0]), conductance_s_(1.0 / p[1]) {}
    T threshold_v() const { return voltage_v_; }
    T threshold_a() const { return T(0.0); }
    Tangent<T> below() const { return {T(0.0), T(0.0)}; }
    Tangent<T> above(const T& /*open_v*/, const T& /*source_ohm*/) const {
      return {-conductance_s_ * voltage_v_, conductance_s_};
    }

   private:
    T voltage_v_, conductance_s_;
  };
};

}  // namespace lampload
