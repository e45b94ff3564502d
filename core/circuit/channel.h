#pragma once
// Channel: the description of one lighting channel, as in the channel file. What is absent is not checked.

#include <optional>
#include <string>
#include <vector>

#include "core/waveform/figures.h"

namespace lampload {

/// What the supply voltage has besides its fundamental.
struct SupplyHarmonic {
  int order = 3;           ///< 2 to 40
  double percent = 0.0;    ///< of the fundamental
  double phase_deg = 0.0;  ///< of its own cycle, ahead of the fundamental's rising zero crossing
};

struct Supply {
  double voltage_v = 230.0;  ///< rms, of the fundamental
  double frequency_hz = 50.0;
  double tolerance_percent = 10.0;
  double source_resistance_ohm = 0.0;
  double source_inductance_h = 0.0;
  double dc_offset_v = 0.0;
  std::vector<SupplyHarmonic> harmonics;
};

struct Cable {
  double length_m = 0.0;  ///< one way
  double conductor_mm2 = 1.5;
  std::optional<double> rated_current_a = std::nullopt;  ///< of one conductor, as it is laid
  std::optional<bool> shared_neutral = std::nullopt;     ///< three phases with equal channels share this neutral
};

struct Breaker {
  char curve = 'B';  ///< B, C or D of IEC 60898-1
  double rating_a = 16.0;
};

enum class OutputKind { phase_cut, relay, dc_pwm, dc_constant_current };
enum class SwitchKind { triac, mosfet_pair, bridge_mosfet, relay, mosfet };

/// Names and units as in the channel file (docs/formats/channel.md).
struct Output {
  OutputKind kind = OutputKind::phase_cut;
  std::vector<Edge> edges;
  SwitchKind switch_kind = SwitchKind::mosfet_pair;
  std::optional<double> on_resistance_ohm;
  std::optional<double> on_voltage_v;  ///< per junction in the path
  std::optional<double> rated_current_a;
  std::optional<double> repetitive_peak_current_a;
  std::optional<double> surge_peak_current_a;
  std::optional<double> surge_i2t_a2s;
  std::optional<double> di_dt_a_per_us;
  std::optional<double> holding_current_a;
  std::optional<double> latching_current_a;
  std::optional<double> thermal_resistance_k_per_w;
  std::optional<double> max_junction_c;
  std::optional<double> ambient_c;
  std::optional<double> avalanche_energy_j;
  std::optional<double> clamp_voltage_v;
  std::optional<double> choke_h;
  std::optional<double> snubber_f;
  std::optional<double> snubber_ohm;
  std::optional<bool> neutral;
  std::optional<double> two_wire_supply_a;
  std::optional<double> soft_start_s;
  std::optional<bool> zero_cross_turn_on;
  std::optional<double> min_conduction_deg;
  std::optional<double> max_conduction_deg;
  std::optional<double> supply_voltage_v;
  std::optional<double> current_a;
  std::optional<double> compliance_min_v;
  std::optional<double> compliance_max_v;
  std::optional<double> pwm_hz;
  std::optional<double> derate_from_c;       ///< up to which rated_current_a holds
  std::optional<double> edge_time_s;         ///< that the switch takes between on and off
  std::optional<double> gate_pulse_s;        ///< of a triac
  std::optional<double> pulse_10ms_k_per_w;  ///< junction over its surroundings after a single pulse of 10 ms
  std::optional<double> off_leakage_a;       ///< rms at nominal supply, besides the snubber
  std::optional<double> zero_cross_sense_v;  ///< where the zero crossing is sensed on the load side: by this level
  std::optional<double> contact_make_a;      ///< peak that contacts may make
  std::optional<double> contact_bounce_s;    ///< from the first touch until contacts rest
  std::optional<double> contact_operations;  ///< electrical life at contact_make_a
  std::optional<double> min_duty_percent;    ///< the shortest pulse
  std::optional<double> parallel_chains;     ///< chains side by side that share the driver's current; whole
};

/// What the installation asks for. An absent limit is that of common practice, and then only advises.
struct Limits {
  std::optional<double> voltage_drop_percent;
  std::optional<double> lamp_stress_factor;   ///< rms input current over that of the uncut lamp
  std::optional<double> ghosting_percent;     ///< power while off, of the uncut power
  std::optional<double> least_level_percent;  ///< power at the lowest setting, of the uncut power
  std::optional<double> operations;           ///< switching operations over the life of the installation
  std::optional<bool> harmonics;              ///< whether the limits of IEC 61000-3-2 bind the count
};

struct Channel {
  std::string name;
  Supply supply;
  std::optional<Cable> cable;
  std::optional<Breaker> breaker;
  Output output;
  Limits limits;
};

/// Through a dimmer for mains lamps, or a relay; else its output is DC.
[[nodiscard]] inline bool fed_by_mains(const Channel& channel) {
  return channel.output.kind == OutputKind::phase_cut || channel.output.kind == OutputKind::relay;
}

}  // namespace lampload
