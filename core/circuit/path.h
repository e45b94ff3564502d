#pragma once
// The path from the supply to the lamps, reduced to what a simulation needs.

#include <vector>

#include "core/circuit/channel.h"
#include "core/lamp/lamp.h"

namespace lampload {

/// In every path, so that currents stay finite.
inline constexpr double least_resistance_ohm = 1e-3;

/// A switching element as threshold and slope: no current up to the threshold, then a resistance.
struct Conduction {
  double threshold_v = 0.0;
  double slope_ohm = 0.0;
};

/// One harmonic of the supply voltage.
struct SupplyTone {
  int order = 3;
  double peak_v = 0.0;
  double phase_rad = 0.0;  ///< of its own cycle, ahead of the fundamental's rising zero crossing
};

/// Supply, cable, choke in series with a switch; a series R-C (snubber) across the switch.
struct Path {
  double supply_peak_v = 0.0;  ///< of the fundamental
  double frequency_hz = 50.0;
  double supply_dc_v = 0.0;
  std::vector<SupplyTone> tones;
  double resistance_ohm = 0.0;  ///< source, cable, at least least_resistance_ohm
  double inductance_h = 0.0;    ///< source, cable and choke
  Conduction on;
  Conduction off;          ///< the clamp, or the voltage at which an open switch gives way
  double snubber_f = 0.0;  ///< 0: none
  double snubber_ohm = 0.0;
  bool releases_at_zero = false;  ///< a triac: opens by itself below the holding current
  double holding_current_a = 0.0;
  double gate_pulse_s = 100e-6;     ///< of a triac (common practice, no source)
  double edge_s = 0.0;              ///< that the switch takes between on and off; 0: its loss is not counted
  double off_leak_s = 0.0;          ///< across the switch [S]: leakage, and what an output without neutral feeds on
  double bounce_s = 0.0;            ///< contacts open again after half of this, and rest after it
  double pulse_10ms_k_per_w = 0.0;  ///< rise of the junction by a pulse of 10 ms; 0: not counted
  double zero_cross_sense_v = 0.0;  ///< level across the lamps that counts as fallen

  /// Time 0 is a rising zero crossing of the fundamental.
  [[nodiscard]] double supply_at(double time_s) const;
  /// Does the supply repeat with the opposite sign after half a cycle?
  [[nodiscard]] bool half_wave_symmetric() const;
};

/// supply_v: rms. An absent resistance is 0, an absent junction voltage 0 for contacts and channels and 0.7 V where a
/// junction is in the path (common practice, no source).
Path path_of(const Channel& channel, double supply_v);

/// Junctions in the path of a kind of switch: bridge plus switch 2, triac 1, else 0.
int junctions(SwitchKind kind);

/// Devices whose on-resistance is in the path: back to back 2, else 1.
int devices_in_path(SwitchKind kind);

/// `count` lamps of one type at the node.
struct LampGroup {
  Lamp lamp;
  int count = 1;
  std::vector<double> start = {};  ///< the lamps' state when a simulation begins; empty: at rest, cold and discharged
};

}  // namespace lampload
