#pragma once
// Copper cable: what the way to the lamps and back adds to the circuit.

namespace lampload {

/// Resistance and inductance of both conductors of a cable.
struct CableImpedance {
  double resistance_ohm = 0.0;
  double inductance_h = 0.0;
};

/// Largest voltage drop from the origin of an installation to its lighting that is usual (BS 7671 appendix 4, from
/// memory).
inline constexpr double usual_lighting_drop_percent = 3.0;

/// Resistance of one copper conductor at 20 degrees Celsius [Ohm/m]. Table of IEC 60228 for 1.0, 1.5, 2.5 and 4.0 mm2
/// (from memory; agrees with the mV/A/m column of BS 7671 appendix 4 once warmed to 70 degrees), scaled by the
/// cross-section elsewhere. Throws Error{input_refused} unless conductor_mm2 > 0.
double conductor_resistance_ohm_per_m(double conductor_mm2);

/// Both conductors of a cable of length_m (one way), copper at conductor_c. Inductance of the loop: 0.65 uH/m (from
/// memory: 0.6 to 0.7). The default is the conductor temperature that PVC cable tables are stated at.
CableImpedance cable_impedance(double length_m, double conductor_mm2, double conductor_c = 70.0);

}  // namespace lampload
