#pragma once
// Baseline family: a plain resistance. Heaters, and the dummy load that a measuring set-up is checked with.

#include <array>
#include <span>

#include "core/lamp/one_port.h"
#include "core/lamp/schematic.h"

namespace lampload {

struct Resistor {
  static constexpr std::string_view name = "resistor";
  static constexpr std::string_view load_law = "";
  static constexpr double rarity = 10.0;  // heaters and dummy loads; common practice, no source
  static constexpr Feed feed = Feed::mains_or_dc;
  static constexpr std::array<ParameterSpec, 1> parameters = {{
      {.name = "resistance_ohm",
       .unit = "Ohm",
       .meaning = "resistance",
       .lower = 0.01,
       .upper = 1e7,
       .identified_by = "steady"},
  }};
  static constexpr std::array<SchematicPart, 1> schematic = {{
      {Symbol::resistor, Placement::across, {"resistance_ohm"}},
  }};
  static constexpr std::array<StateSpec, 0> states = {};

  template <class T>
  class Model {
   public:
    explicit Model(std::span<const T> parameters) : conductance_(1.0 / parameters[0]) {}

    Step<T> advance(std::array<T, 0>& /*state*/, const T& v0, const T& v1, double dt_s) const {
      return {conductance_ * v1, conductance_ * (v0 + v1) * (0.5 * dt_s)};
    }

   private:
    T conductance_;
  };

  static std::vector<std::vector<double>> starts(const StartHints& hints) {
    if (hints.current_rms_a <= 0.0) return {{100.0}};
    return {{hints.voltage_rms_v / hints.current_rms_a}};
  }

  static std::vector<DerivedFigure> derived(std::span<const double> parameters, const OperatingPoint& at) {
    return {{"rated_power_w", "W", at.voltage_v * at.voltage_v / parameters[0]}};
  }

  static double dc_current_a(std::span<const double> parameters, double voltage_v) { return voltage_v / parameters[0]; }

  static bool plausible(std::span<const double> /*parameters*/, std::span<const double> /*state*/,
                        const OperatingPoint& /*at*/) {
    return true;
  }
};

}  // namespace lampload
