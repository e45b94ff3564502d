#pragma once
// A converged solver is not a right answer. The gate decides whether a solution describes the lamp.

#include <string>

#include "fit/current_shape.h"
#include "fit/estimates.h"
#include "fit/lamp_residuals.h"

namespace lampload {

/// What a solution leaves of one capture.
struct Remainder {
  LampResiduals::Left left;
  CurrentShape shape;
};

/// Of the rms current, beyond what the weights expect.
double unexplained_share(const LampResiduals::Left& left);

struct GateVerdict {
  bool accepted = false;
  std::string sentence;
};

/// Unexplained share of the rms current that one capture, and all together, may show. Common practice, no source: a
/// lamp count follows the peaks and the rms current about in proportion, and has margins of that size.
inline constexpr double misfit_limit_one = 0.20;
inline constexpr double misfit_limit_all = 0.12;
/// The same of a capture whose current flows most of the time: pulses and surges hang on instants, resistances and
/// samples that are known to some per cent, a smooth current does not. Simulated lamps with what the models have not
/// leave 2 %, recorded filaments as much; two unlike lamps as one 4 % and more.
inline constexpr double misfit_limit_smooth = 0.04;
inline constexpr double smooth_crest_factor = 2.0;
/// Share of the power that may flow while the model draws next to nothing. Lamps, simulated and recorded, show 1 % at
/// most; a driver without reservoir of a tenth of its neighbour's power 5 %. Behind a dimmer slow samples of an edge
/// count there: a simulated dropper, whose power is a small part of what it draws, showed 6 %.
inline constexpr double quiet_power_limit = 0.04;
inline constexpr double quiet_power_limit_cut = 0.10;

GateVerdict judge(const FamilyInfo& family, const std::vector<Estimate>& parameters, const std::vector<bool>& bound,
                  const std::vector<Remainder>& left, double autocorrelation);

}  // namespace lampload
