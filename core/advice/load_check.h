#pragma once
// A given load on a channel in one mode: lamps of any types, so many of each. Every constraint at its worst operating
// point and at the nominal one.

#include <span>
#include <string>
#include <vector>

#include "core/advice/recommendation.h"
#include "core/circuit/drive.h"

namespace lampload {

/// So many lamps of one type.
struct LoadItem {
  LampEvidence evidence;
  int count = 1;
};

/// One constraint with this load.
struct CheckedConstraint {
  std::string name;
  double value = 0.0;          ///< at the worst operating point, with all margins
  double nominal_value = 0.0;  ///< central lamps, nominal supply, the worst setting of these
  double limit = 0.0;
  std::string unit;
  bool advice = false;   ///< as in ConstraintResult: the load holds without it
  bool minimum = false;  ///< the value must reach the limit instead of staying below it
  bool holds = true;     ///< `value` keeps the limit
  bool holds_nominal = true;
  bool at_turn_on = false;           ///< of a turn-on from rest, not of the steady state
  double setting_deg = 0.0;          ///< where it is worst: conduction angle, or phase of the turn-on
  double nominal_setting_deg = 0.0;  ///< likewise
  std::string source;                ///< standard and clause, the channel's rating, or "common practice, no source"
  std::string sentence;              ///< for people: value, limit, where it is worst

  /// How much of the limit is in use: 1 at the limit, more where it does not hold.
  [[nodiscard]] double use() const;
};

/// What a breaker that feeds several such loads has to carry.
struct LoadDemand {
  double rms_a = 0.0;    ///< at the setting where it is highest
  TurnOnFigures inrush;  ///< at the phase where the peak is highest; on mains only
};

struct LoadCheck {
  Mode mode = Mode::none;
  bool holds = true;  ///< all constraints, with all margins
  bool holds_nominal = true;
  std::string limited_by;  ///< the constraint whose limit is used most; empty where none was checked
  std::vector<CheckedConstraint> constraints;
  LoadDemand worst;
  LoadDemand nominal;
  std::vector<std::string> not_checked;  ///< each named with the key it would need
  std::vector<std::string> cautions;
};

/// Evaluates every constraint of the channel for the whole load: all lamps solved together at one node, at every
/// conduction angle (or phase of the turn-on) the channel allows in this mode, at the upper and lower supply, each lamp
/// type at the unfavourable end of its uncertainty. A lamp without a family joins with its measured waveform, in
/// proportion, as far as that goes. A lamp that the channel cannot feed, or whose label or circuit forbids the mode, is
/// a constraint ("supply", "label", "phase_cut") that does not hold.
/// Throws Error{usage} without lamps, with a count below 1 or for a mode that the channel cannot do; Error{calculation}
/// where a simulation fails.
LoadCheck check_load(std::span<const LoadItem> load, const Channel& channel, Mode mode);

}  // namespace lampload
