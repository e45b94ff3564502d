#pragma once
// What one constraint is: a quantity of the simulated channel, and the limit it must keep. One file each.

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "core/advice/recommendation.h"
#include "core/circuit/drive.h"

namespace lampload {

/// Exactly one of of_steady and of_turn_on is set.
struct Constraint {
  std::string name;
  std::string quantity;  ///< for sentences: "rms current through the switch"
  std::string unit;
  std::string source;
  double limit = 0.0;
  bool minimum = false;  ///< the value must reach the limit instead of staying below it
  std::function<double(const SteadyFigures&)> of_steady = {};
  std::function<double(const TurnOnFigures&)> of_turn_on = {};
};

/// Where constraints put the keys of absent ratings.
using Missing = std::vector<std::string>;

/// Each of these appends to `missing` what it would need, and is empty where the channel lacks it or the mode has no
/// such stress.
using ConstraintMaker = std::optional<Constraint> (*)(const Channel&, Mode, Missing&);

std::optional<Constraint> continuous_current(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> switch_temperature(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> repetitive_peak(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> current_rise(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> surge_peak(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> surge_i2t(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> breaker_trip(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> breaker_load(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> turn_off_energy(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> latching_load(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> minimum_load(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> two_wire_load(const Channel& channel, Mode mode, Missing& missing);

/// All of the above that apply to the channel in this mode.
std::vector<Constraint> constraints_of(const Channel& channel, Mode mode, Missing& missing);

}  // namespace lampload
