#pragma once
// One mode of a channel judged.

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "core/advice/constraint.h"
#include "core/advice/load.h"

namespace lampload {

/// A mode with what the ranking needs besides.
struct JudgedMode {
  ModeVerdict verdict;
  double range_deg = 0.0;   ///< conduction range in which the lamps get power
  double stress = 0.0;      ///< highest repetitive peak over rms current uncut
  bool overridden = false;  ///< the label forbids it
  /// What its margins cost, from the simulations that are already there; empty where the lamp has no circuit.
  std::function<MarginCost()> margins = {};
};

/// Simulates the fitted lamp. Throws Error{calculation} where a simulation fails.
JudgedMode judge_mode(const LampEvidence& evidence, const std::vector<Lamp>& lamps, const Channel& channel, Mode mode,
                      const std::vector<Constraint>& constraints);

/// Where no family describes the lamp: the figures of its captures times the count. Empty where the mode was not
/// captured.
std::optional<JudgedMode> judge_measured(const LampEvidence& evidence, const Channel& channel, Mode mode,
                                         const std::vector<Constraint>& constraints);

/// What a lamp's measured waveform alone says about a constraint: the value of one lamp, and with which power of the
/// count it grows.
struct MeasuredValue {
  double of_one = 0.0;
  double exponent = 1.0;
};

/// Empty where no capture shows it.
std::optional<MeasuredValue> measured_value(const LampEvidence& evidence, Mode mode, const Constraint& constraint);

/// By how much currents are taken up where only the measured waveform speaks: usual spread and the supply's tolerance.
double measured_margin(const Channel& channel);

/// Where a constraint is worst, for sentences: "253 V supply, 90 degrees conduction".
std::string operating_point(Load& load, const Constraint& constraint, const Situation& at, Mode mode);

/// Counts, binding constraint and next one from the constraints' own results.
void conclude(ModeVerdict& verdict);

}  // namespace lampload
