#include "core/circuit/path.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/standards/cable.h"

namespace lampload {
namespace {

constexpr double junction_v = 0.7;
// An open switch without a clamp gives way somewhere; far above any mains peak it only keeps inductive cuts finite.
constexpr double give_way_v = 1000.0;
constexpr double give_way_ohm = 1.0;
constexpr double release_a = 1e-3;
// Of a rectified sine.
constexpr double mean_of_rms = 2.0 * std::numbers::sqrt2 / std::numbers::pi;

}  // namespace

int junctions(SwitchKind kind) {
  switch (kind) {
    case SwitchKind::bridge_mosfet:
      return 2;
    case SwitchKind::triac:
      return 1;
    case SwitchKind::mosfet_pair:
    case SwitchKind::relay:
    case SwitchKind::mosfet:
      return 0;
  }
  return 0;
}

int devices_in_path(SwitchKind kind) { return kind == SwitchKind::mosfet_pair ? 2 : 1; }

double Path::supply_at(double time_s) const {
  const double angle = 2.0 * std::numbers::pi * frequency_hz * time_s;
  double volt = supply_dc_v + supply_peak_v * std::sin(angle);
  for (const SupplyTone& tone : tones) volt += tone.peak_v * std::sin(tone.order * angle + tone.phase_rad);
  return volt;
}

bool Path::half_wave_symmetric() const {
  return supply_dc_v == 0.0 &&
         std::all_of(tones.begin(), tones.end(), [](const SupplyTone& tone) { return tone.order % 2 == 1; });
}

Path path_of(const Channel& channel, double supply_v) {
  const Output& output = channel.output;
  Path path;
  path.supply_peak_v = supply_v * std::numbers::sqrt2;
  path.frequency_hz = channel.supply.frequency_hz;
  path.supply_dc_v = channel.supply.dc_offset_v;
  for (const SupplyHarmonic& harmonic : channel.supply.harmonics) {
    path.tones.push_back(
        {harmonic.order, 0.01 * harmonic.percent * path.supply_peak_v, harmonic.phase_deg * std::numbers::pi / 180.0});
  }
  path.resistance_ohm = channel.supply.source_resistance_ohm;
  path.inductance_h = channel.supply.source_inductance_h + output.choke_h.value_or(0.0);
  if (channel.cable) {
    const CableImpedance cable = cable_impedance(channel.cable->length_m, channel.cable->conductor_mm2);
    path.resistance_ohm += cable.resistance_ohm;
    path.inductance_h += cable.inductance_h;
  }
  path.resistance_ohm = std::max(path.resistance_ohm, least_resistance_ohm);
  path.on.threshold_v = junctions(output.switch_kind) * output.on_voltage_v.value_or(junction_v);
  path.on.slope_ohm =
      std::max(devices_in_path(output.switch_kind) * output.on_resistance_ohm.value_or(0.0), least_resistance_ohm);
  path.off = {output.clamp_voltage_v.value_or(give_way_v), give_way_ohm};
  path.snubber_f = output.snubber_f.value_or(0.0);
  path.snubber_ohm = std::max(output.snubber_ohm.value_or(0.0), least_resistance_ohm);
  path.releases_at_zero = output.switch_kind == SwitchKind::triac;
  path.holding_current_a = std::max(output.holding_current_a.value_or(0.0), release_a);
  path.gate_pulse_s = output.gate_pulse_s.value_or(path.gate_pulse_s);
  path.edge_s = output.edge_time_s.value_or(0.0);
  path.off_leak_s = output.off_leakage_a.value_or(0.0) / channel.supply.voltage_v;
  if (!output.neutral.value_or(true) && output.kind == OutputKind::phase_cut) {
    path.off_leak_s += output.two_wire_supply_a.value_or(0.0) / (mean_of_rms * channel.supply.voltage_v);
  }
  if (output.switch_kind == SwitchKind::relay) path.bounce_s = output.contact_bounce_s.value_or(0.0);
  path.pulse_10ms_k_per_w = output.pulse_10ms_k_per_w.value_or(0.0);
  path.zero_cross_sense_v = output.zero_cross_sense_v.value_or(0.0);
  return path;
}

}  // namespace lampload
