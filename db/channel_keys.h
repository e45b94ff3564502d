#pragma once
// The keys of a channel file, in the order of docs/formats/channel.md: reading, checking and writing all go by these
// tables.

#include <array>
#include <optional>
#include <string_view>

#include "core/circuit/channel.h"

namespace lampload::channel_keys {

/// Versions of the format, oldest first; a key belongs to the one of its `minor` and to later ones.
inline constexpr std::array<std::string_view, 2> format_versions = {"1.0", "1.1"};

/// A number with its physical bounds (both allowed).
template <class Object, class Value>
struct Number {
  std::string_view name;
  Value Object::*field;
  double lower;
  double upper;
  bool required = false;
  int minor = 0;
};

template <class Object>
struct Flag {
  std::string_view name;
  std::optional<bool> Object::*field;
  int minor = 0;
};

/// A text that stands for an enumerator, at its index.
inline constexpr std::array<std::string_view, 4> output_kinds = {"phase_cut", "relay", "dc_pwm", "dc_constant_current"};
inline constexpr std::array<std::string_view, 5> switch_kinds = {"triac", "mosfet_pair", "bridge_mosfet", "relay",
                                                                 "mosfet"};
inline constexpr std::array<std::string_view, 2> edges = {"leading", "trailing"};
inline constexpr std::array<std::string_view, 3> breaker_curves = {"B", "C", "D"};

inline constexpr std::string_view limits_key = "limits";
inline constexpr int limits_minor = 1;
inline constexpr std::array<std::string_view, 8> top = {"format", "format_version", "name",   "supply",
                                                        "cable",  "breaker",        "output", limits_key};

inline constexpr std::array<Number<Supply, double>, 5> supply = {{
    {"voltage_v", &Supply::voltage_v, 1.0, 1000.0},
    {"frequency_hz", &Supply::frequency_hz, 0.0, 1000.0},
    {"tolerance_percent", &Supply::tolerance_percent, 0.0, 50.0},
    {"source_resistance_ohm", &Supply::source_resistance_ohm, 0.0, 100.0},
    {"source_inductance_h", &Supply::source_inductance_h, 0.0, 0.1},
}};
/// Besides the fundamental; 0 where it is absent, and not written then.
inline constexpr Number<Supply, double> dc_offset = {"dc_offset_v", &Supply::dc_offset_v, -100.0, 100.0, false, 1};
inline constexpr std::string_view supply_harmonics = "harmonics";
inline constexpr int supply_harmonics_minor = 1;
/// Of one harmonic in that list, beside its order.
inline constexpr std::string_view harmonic_order = "order";
inline constexpr double least_order = 2.0;
inline constexpr double highest_order = 40.0;
inline constexpr std::array<Number<SupplyHarmonic, double>, 2> harmonic = {{
    {"percent", &SupplyHarmonic::percent, 0.0, 100.0, true, 1},
    {"phase_deg", &SupplyHarmonic::phase_deg, -360.0, 360.0, false, 1},
}};

inline constexpr std::array<Number<Cable, double>, 2> cable = {{
    {"length_m", &Cable::length_m, 0.0, 10'000.0, true},
    {"conductor_mm2", &Cable::conductor_mm2, 0.05, 400.0, true},
}};
inline constexpr std::array<Number<Cable, std::optional<double>>, 1> conductor = {{
    {"rated_current_a", &Cable::rated_current_a, 0.1, 1000.0, false, 1},
}};
inline constexpr Flag<Cable> shared_neutral = {"shared_neutral", &Cable::shared_neutral, 1};

inline constexpr Number<Breaker, double> breaker_rating = {"rating_a", &Breaker::rating_a, 0.1, 125.0, true};

using OutputNumber = Number<Output, std::optional<double>>;
inline constexpr std::array<OutputNumber, 17> ratings = {{
    {"on_resistance_ohm", &Output::on_resistance_ohm, 0.0, 1000.0},
    {"on_voltage_v", &Output::on_voltage_v, 0.0, 20.0},
    {"rated_current_a", &Output::rated_current_a, 0.001, 1000.0},
    {"repetitive_peak_current_a", &Output::repetitive_peak_current_a, 0.001, 10'000.0},
    {"surge_peak_current_a", &Output::surge_peak_current_a, 0.001, 100'000.0},
    {"surge_i2t_a2s", &Output::surge_i2t_a2s, 1e-9, 1e8},
    {"di_dt_a_per_us", &Output::di_dt_a_per_us, 1e-3, 1e5},
    {"holding_current_a", &Output::holding_current_a, 0.0, 10.0},
    {"latching_current_a", &Output::latching_current_a, 0.0, 10.0},
    {"thermal_resistance_k_per_w", &Output::thermal_resistance_k_per_w, 1e-3, 1000.0},
    {"max_junction_c", &Output::max_junction_c, 0.0, 400.0},
    {"ambient_c", &Output::ambient_c, -60.0, 150.0},
    {"avalanche_energy_j", &Output::avalanche_energy_j, 0.0, 1000.0},
    {"clamp_voltage_v", &Output::clamp_voltage_v, 1.0, 10'000.0},
    {"choke_h", &Output::choke_h, 0.0, 1.0},
    {"snubber_f", &Output::snubber_f, 0.0, 1e-3},
    {"snubber_ohm", &Output::snubber_ohm, 0.0, 1e7},
}};

inline constexpr Flag<Output> neutral = {"neutral", &Output::neutral};
inline constexpr std::array<OutputNumber, 2> starting = {{
    {"two_wire_supply_a", &Output::two_wire_supply_a, 0.0, 1.0},
    {"soft_start_s", &Output::soft_start_s, 0.0, 60.0},
}};
inline constexpr Flag<Output> zero_cross_turn_on = {"zero_cross_turn_on", &Output::zero_cross_turn_on};
inline constexpr std::array<OutputNumber, 7> range = {{
    {"min_conduction_deg", &Output::min_conduction_deg, 0.0, 180.0},
    {"max_conduction_deg", &Output::max_conduction_deg, 0.0, 180.0},
    {"supply_voltage_v", &Output::supply_voltage_v, 0.1, 1500.0},
    {"current_a", &Output::current_a, 1e-4, 100.0},
    {"compliance_min_v", &Output::compliance_min_v, 0.0, 1500.0},
    {"compliance_max_v", &Output::compliance_max_v, 0.1, 1500.0},
    {"pwm_hz", &Output::pwm_hz, 1.0, 1e6},
}};
inline constexpr std::array<OutputNumber, 11> details = {{
    {"derate_from_c", &Output::derate_from_c, -60.0, 150.0, false, 1},
    {"edge_time_s", &Output::edge_time_s, 0.0, 1e-3, false, 1},
    {"gate_pulse_s", &Output::gate_pulse_s, 1e-6, 0.02, false, 1},
    {"pulse_10ms_k_per_w", &Output::pulse_10ms_k_per_w, 1e-4, 1000.0, false, 1},
    {"off_leakage_a", &Output::off_leakage_a, 0.0, 1.0, false, 1},
    {"zero_cross_sense_v", &Output::zero_cross_sense_v, 0.1, 400.0, false, 1},
    {"contact_make_a", &Output::contact_make_a, 0.001, 100'000.0, false, 1},
    {"contact_bounce_s", &Output::contact_bounce_s, 0.0, 0.1, false, 1},
    {"contact_operations", &Output::contact_operations, 1.0, 1e9, false, 1},
    {"min_duty_percent", &Output::min_duty_percent, 0.001, 100.0, false, 1},
    {"parallel_chains", &Output::parallel_chains, 1.0, 1000.0, false, 1},
}};

inline constexpr std::array<Number<Limits, std::optional<double>>, 5> limits = {{
    {"voltage_drop_percent", &Limits::voltage_drop_percent, 0.01, 100.0, false, 1},
    {"lamp_stress_factor", &Limits::lamp_stress_factor, 1.0, 100.0, false, 1},
    {"ghosting_percent", &Limits::ghosting_percent, 0.0, 100.0, false, 1},
    {"least_level_percent", &Limits::least_level_percent, 0.01, 100.0, false, 1},
    {"operations", &Limits::operations, 1.0, 1e9, false, 1},
}};
inline constexpr Flag<Limits> harmonics = {"harmonics", &Limits::harmonics, 1};

}  // namespace lampload::channel_keys
