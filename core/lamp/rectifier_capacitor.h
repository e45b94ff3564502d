#pragma once
// Bridge rectifier with a reservoir capacitor: the front end of lamps with an electronic supply.
//
//   o--+------------+--- Rs --- Ls ---[NTC]---+--|>|--+-----------+
//      |            |                         | bridge|           |
//     Cin        R and C                      |       |  ESR+C    |  load law
//      |            |                         |       |           |
//   o--+------------+-------------------------+-------+-----------+
//
// The input capacitance and the damper lie straight across the terminals. Most lamps have neither damper nor inrush
// limiter (NTC); see bridge_with_parts.h. The bridge costs a fixed voltage, conducts while the
// rectified terminal voltage (less that) would drive current into the bus, and blocks otherwise. Between two such
// instants everything is linear and solved in closed form; see bridge.h and reservoir.h.

#include <algorithm>
#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "core/lamp/bridge.h"
#include "core/lamp/bridge_with_parts.h"
#include "core/lamp/common_parameters.h"
#include "core/lamp/load_law.h"
#include "core/lamp/one_port.h"
#include "core/lamp/schematic.h"

namespace lampload {

template <class Load>
struct RectifierCapacitor {
  static constexpr std::string_view name = "rectifier_capacitor";
  static constexpr std::string_view load_law = Load::load_law;
  static constexpr double rarity = 0.0;
  static constexpr Feed feed = Feed::mains;

  static constexpr std::size_t shared = 6;

  /// Lamps without inrush limiter and damper.
  struct Plain {
    static constexpr auto parameters = [] {
      std::array<ParameterSpec, shared + Load::parameters.size()> table = {{
          {.name = "series_resistance_ohm",
           .unit = "Ohm",
           .meaning = "resistance ahead of the bridge",
           .lower = 0.05,
           .upper = 2000.0,
           .model_sd = 0.11,
           .identified_by = "turn_on"},
          {.name = "series_inductance_h",
           .unit = "H",
           .meaning = "inductance ahead of the bridge",
           .lower = 1e-6,
           .upper = 0.1,
           .optional = true,
           .model_sd = 0.3,
           .identified_by = "leading_edge"},
          [] {
            ParameterSpec spec = common::input_capacitance;
            spec.model_sd = 0.017;
            return spec;
          }(),
          common::rectifier_drop,
          [] {
            ParameterSpec spec = common::reservoir_capacitance("steady");
            spec.model_sd = 0.01;
            return spec;
          }(),
          {.name = "reservoir_esr_ohm",
           .unit = "Ohm",
           .meaning = "resistance in series with the reservoir",
           .lower = 1e-3,
           .upper = 500.0,
           .optional = true,
           .identified_by = "turn_on"},
      }};
      for (std::size_t i = 0; i < Load::parameters.size(); ++i) table[shared + i] = Load::parameters[i];
      return table;
    }();

    static constexpr std::array<StateSpec, 2> states = {{
        {.name = reservoir_state, .unit = "V", .lower = 0.0, .upper = 1500.0, .rest = 0.0},
        {.name = "bridge_current_a", .unit = "A", .lower = -1e5, .upper = 1e5, .rest = 0.0},
    }};

    template <class T>
    using Model = BridgeModel<T, Load>;
  };

  static constexpr std::size_t first_ntc = Plain::parameters.size();
  static constexpr auto parameters = [] {
    std::array<ParameterSpec, first_ntc + ntc::parameters.size() + damper::parameters.size()> table{};
    auto next = std::copy(Plain::parameters.begin(), Plain::parameters.end(), table.begin());
    next = std::copy(ntc::parameters.begin(), ntc::parameters.end(), next);
    std::copy(damper::parameters.begin(), damper::parameters.end(), next);
    return table;
  }();
  static constexpr std::array<StateSpec, 4> states = {Plain::states[0], Plain::states[1], ntc::state, damper::state};

  static constexpr auto schematic = joined(
      std::array<SchematicPart, 8>{{
          {Symbol::capacitor, Placement::across, {"input_capacitance_f"}},
          {Symbol::resistor, Placement::across, {"damper_resistance_ohm"}},
          {Symbol::capacitor, Placement::with_previous, {"damper_capacitance_f"}},
          {Symbol::resistor, Placement::in_series, {"series_resistance_ohm"}},
          {Symbol::inductor, Placement::in_series, {"series_inductance_h"}},
          {Symbol::thermistor,
           Placement::in_series,
           {"ntc_resistance_ohm", "ntc_b_k", "ntc_dissipation_w_per_k", "ntc_time_constant_s"}},
          {Symbol::bridge, Placement::in_series, {"rectifier_drop_v"}},
          {Symbol::resistor, Placement::across, {"reservoir_esr_ohm"}},
      }},
      joined(std::array<SchematicPart, 1>{{{Symbol::capacitor, Placement::with_previous, {"reservoir_capacitance_f"}}}},
             Load::schematic));

  template <class T>
  using Model = BridgeWithParts<T, Load>;

  static std::vector<std::vector<double>> starts(const StartHints& hints);
  static std::vector<std::vector<double>> part_starts(std::span<const double> parameters, std::string_view part);
  static std::vector<DerivedFigure> derived(std::span<const double> parameters, const OperatingPoint& at);
  /// By the load law behind the bridge; raised from rest, so that a load that starts only above a bus voltage is off
  /// where the source cannot bring the bus there.
  static double dc_current_a(std::span<const double> parameters, double voltage_v);
  static constexpr std::string_view light_law = Load::light_law;
  static double light(std::span<const double> p, std::span<const double> state, double /*voltage_v*/,
                      double /*current_a*/) {
    if constexpr (Load::light_law.empty()) {
      return 0.0;
    } else {
      return Load::light(p.subspan(shared), state[0]);
    }
  }
  /// A reservoir far below the crest of the voltage does not make pulses: the circuit only mimics a resistance. A
  /// string of LEDs far below it only mimics another load.
  static bool plausible(std::span<const double> parameters, std::span<const double> state, const OperatingPoint& at);
};

}  // namespace lampload
