#pragma once
// A string of LEDs fed through a series capacitor: the cheapest supply there is.
//
//                 +-- Rb --+
//   o--- Rs ------+        +------+--|>|--+--------+
//                 +-- C1 --+      | bridge|        |
//                                 |       C2   LED string
//                                 |       |        |
//   o-----------------------------+-------+--------+
//
// The series capacitor's reactance sets the current; the reservoir stands far below the crest of the mains. The bridge
// costs a fixed voltage and conducts, in either direction, while the terminal voltage less that of the series capacitor
// would drive current into the reservoir. Between two such instants everything is linear and solved in closed form; see
// dropper.h and series_charge.h.

#include <array>
#include <span>
#include <vector>

#include "core/lamp/common_parameters.h"
#include "core/lamp/dropper.h"
#include "core/lamp/load_law.h"
#include "core/lamp/one_port.h"
#include "core/lamp/schematic.h"

namespace lampload {

struct CapacitiveDropper {
  static constexpr std::string_view name = "capacitive_dropper";
  static constexpr std::string_view load_law = "";
  static constexpr double rarity = 0.0;
  static constexpr Feed feed = Feed::mains;
  static constexpr std::string_view harmed_by_cuts =
      "a capacitor in series with all of its load passes every jump of the voltage, in each half cycle and at either "
      "edge";
  static constexpr std::array<ParameterSpec, 7> parameters = {{
      {.name = "series_capacitance_f",
       .unit = "F",
       .meaning = "capacitance in series with the bridge",
       .lower = 1e-8,
       .upper = 1e-5,
       .model_sd = 0.008,
       .identified_by = "steady"},
      {.name = "series_resistance_ohm",
       .unit = "Ohm",
       .meaning = "resistance in series with the capacitor",
       .lower = 0.5,
       .upper = 5000.0,
       .model_sd = 0.45,
       .identified_by = "leading_edge"},
      // Many captures hardly show it. 0.5 to 2 MOhm, so that the contacts are safe to touch after a second (common
      // practice, no source).
      {.name = "bleed_resistance_ohm",
       .unit = "Ohm",
       .meaning = "resistance across the series capacitor",
       .lower = 2e4,
       .upper = 2e7,
       .scale = 1e6,
       .prior_sd = 0.8,
       .model_sd = 0.6,
       .identified_by = "trailing_edge"},
      common::rectifier_drop,
      [] {
        ParameterSpec spec = common::reservoir_capacitance("turn_on");
        spec.model_sd = 0.3;
        return spec;
      }(),
      [] {
        ParameterSpec spec = LedStringLoad::parameters[0];
        spec.model_sd = 0.12;
        return spec;
      }(),
      [] {
        // Behind a large reservoir it does not show at all. Within a factor of twenty of this (common practice, no
        // source).
        ParameterSpec spec = LedStringLoad::parameters[1];
        spec.scale = 500.0;
        spec.prior_sd = 1.5;
        spec.model_sd = 0.8;
        return spec;
      }(),
  }};
  static constexpr std::array<SchematicPart, 7> schematic = {{
      {Symbol::resistor, Placement::in_series, {"series_resistance_ohm"}},
      {Symbol::capacitor, Placement::in_series, {"series_capacitance_f"}},
      {Symbol::resistor, Placement::with_previous, {"bleed_resistance_ohm"}},
      {Symbol::bridge, Placement::in_series, {"rectifier_drop_v"}},
      {Symbol::capacitor, Placement::across, {"reservoir_capacitance_f"}},
      {Symbol::resistor, Placement::across, {"string_resistance_ohm"}},
      {Symbol::led_string, Placement::with_previous, {"string_voltage_v"}},
  }};
  static constexpr std::array<StateSpec, 2> states = {{
      {.name = "series_voltage_v", .unit = "V", .lower = -3000.0, .upper = 3000.0, .rest = 0.0},
      {.name = reservoir_state, .unit = "V", .lower = 0.0, .upper = 1500.0, .rest = 0.0},
  }};

  template <class T>
  using Model = DropperModel<T>;

  /// None where an uncut waveform shows that the current is not limited by a capacitor.
  static std::vector<std::vector<double>> starts(const StartHints& hints);
  static std::vector<DerivedFigure> derived(std::span<const double> parameters, const OperatingPoint& at);
  static constexpr std::string_view light_law = LedStringLoad::light_law;
  static double light(std::span<const double> p, std::span<const double> state, double /*voltage_v*/,
                      double /*current_a*/) {
    return LedStringLoad::light(p.subspan(5), state[1]);
  }
  /// The series capacitor must be what limits the current: a reservoir near the crest of the voltage, or none to speak
  /// of, or a resistor that outdoes the capacitor only mimics another kind of lamp.
  static bool plausible(std::span<const double> parameters, std::span<const double> state, const OperatingPoint& at);
};

}  // namespace lampload
