#pragma once
// A whole step of a bridge that conducts, without series inductance, into a curved load: in plain numbers, for the
// channel's simulation, where nothing varies but the voltage at the end of the step. reservoir.h has the same for any
// scalar, in stretches between the instants at which something switches.

#include <algorithm>
#include <cmath>

#include "core/lamp/load_law.h"
#include "core/lamp/relaxation.h"

namespace lampload {

/// The circuit ahead of the load, with what follows from it (bridge.h).
struct FedBridge {
  double resistance_ohm, inverse_capacitance, esr_ohm;
  double esr_share, fed_esr_ohm;
  double threshold_v;  ///< of the bus without the load, above which the load's curve holds
};

/// The end of the step, with slopes by the drive there.
struct FedStretch {
  bool certain =
      false;  ///< false: something may switch on the way, or the load's tangent does not hold; nothing else is said
  double reservoir_v = 0.0, current_a = 0.0, charge_c = 0.0;
  double reservoir_slope = 0.0, current_slope = 0.0, charge_slope = 0.0;
};

/// drive0, drive1: rectified terminal voltage less the bridge's drop, at both ends of the step.
template <class Law>
FedStretch fed_stretch(const Law& load, const FedBridge& bridge, double start_v, double drive0, double drive1,
                       double dt_s) {
  const double open_v = start_v + bridge.esr_share * (drive0 - start_v);
  if (!(open_v > bridge.threshold_v)) return {};
  const Tangent<double> line = load.above(open_v, bridge.fed_esr_ohm);
  const double slope = line.slope_s;
  const double r = bridge.resistance_ohm;
  const double total = 1.0 / (r + bridge.esr_ohm + r * bridge.esr_ohm * slope);
  const double admittance = (1.0 + bridge.esr_ohm * slope) * total;
  const double injection_a = bridge.esr_ohm * line.offset_a * total;
  if (!(admittance * drive0 + injection_a > total * start_v)) return {};
  const double per_farad = total * bridge.inverse_capacitance;
  const double decay = (1.0 + r * slope) * per_farad;
  if (decay < 0.0 && -decay * dt_s > 0.5) return {};  // a constant-power load that outruns everything

  const auto p = phi_values(-decay * dt_s);
  const double ramp = (drive1 - drive0) / dt_s;
  const double rate0 = per_farad * (drive0 - r * line.offset_a - (1.0 + r * slope) * start_v);
  const double end_v = start_v + dt_s * (p[0] * rate0 + p[1] * dt_s * per_farad * ramp);
  if (!(admittance * drive1 + injection_a > total * end_v)) return {};
  if (!(end_v + bridge.esr_share * (drive1 - end_v) > bridge.threshold_v)) return {};
  // current that falls first and rises at the end may have been through zero
  const double rate1 = rate0 + per_farad * (drive1 - drive0) - decay * (end_v - start_v);
  const double rise = admittance * ramp;
  if (rise < total * rate0 && rise > total * rate1) return {};
  const double drawn_a = line.offset_a + slope * open_v;
  const double change = std::min(1.0, std::abs(end_v - start_v) / load.straight_v(open_v, drawn_a));
  constexpr double straight = 1e-4;
  if (drawn_a * bridge.inverse_capacitance * dt_s * change * change > straight * std::max(open_v, end_v)) return {};

  const double integral = dt_s * (start_v + dt_s * (p[1] * rate0 + p[2] * dt_s * per_farad * ramp));
  FedStretch end{.certain = true};
  end.reservoir_v = end_v;
  end.current_a = admittance * drive1 + injection_a - total * end_v;
  end.charge_c = dt_s * (0.5 * admittance * (drive0 + drive1) + injection_a) - total * integral;
  end.reservoir_slope = dt_s * p[1] * per_farad;
  end.current_slope = admittance - total * end.reservoir_slope;
  end.charge_slope = dt_s * (0.5 * admittance - total * dt_s * p[2] * per_farad);
  return end;
}

}  // namespace lampload
