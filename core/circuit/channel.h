#pragma once
// Channel: the description of one lighting channel, as in the channel file. What is absent is not checked.

#include <optional>
#include <string>
#include <vector>

#include "core/waveform/figures.h"

namespace lampload {

struct Supply {
  double voltage_v = 230.0;  ///< rms
  double frequency_hz = 50.0;
  double tolerance_percent = 10.0;
  double source_resistance_ohm = 0.0;
  double source_inductance_h = 0.0;
};

struct Cable {
  double length_m = 0.0;  ///< one way
  double conductor_mm2 = 1.5;
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
};

struct Channel {
  std::string name;
  Supply supply;
  std::optional<Cable> cable;
  std::optional<Breaker> breaker;
  Output output;
};

}  // namespace lampload
