#pragma once
// What one constraint is: a quantity of the simulated channel, and the limit it must keep. One file each.

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "core/advice/dimming.h"
#include "core/advice/recommendation.h"
#include "core/circuit/drive.h"
#include "core/circuit/line_cycle.h"

namespace lampload {

/// Exactly one of the functions of_... is set: it says which simulation the value comes from.
struct Constraint {
  std::string name;
  std::string quantity;  ///< for sentences: "rms current through the switch"
  std::string unit;
  std::string source;
  double limit = 0.0;
  bool minimum = false;             ///< the value must reach the limit instead of staying below it
  bool eases = false;               ///< the value falls, or stays, as lamps are added
  bool advice = false;              ///< by common practice, not asked for: told, but sets no count
  bool of_one = false;              ///< looks at one lamp, whatever the count
  bool running = false;             ///< of_turn_on looks at TurnOnFigures::running_w
  std::vector<double> at_deg = {};  ///< conduction angles it is looked at with; empty: all that the channel allows
  std::function<double(const SteadyFigures&)> of_steady = {};
  std::function<double(const TurnOnFigures&)> of_turn_on = {};
  /// Against the same lamps at the same supply without any cut.
  std::function<double(const SteadyFigures&, const SteadyFigures& uncut)> of_compared = {};
  std::function<std::string(const SteadyFigures&, const SteadyFigures& uncut)> tell_compared = {};
  /// The channel switched off, against the same lamps uncut.
  std::function<double(const SteadyFigures& off, const SteadyFigures& uncut)> of_off = {};
  std::function<double(const DimmingRange&)> of_range = {};  ///< of both sweeps; no setting of its own
  std::function<double(const LineCycle&)> of_cycle = {};
  std::function<std::string(const LineCycle&)> tell_cycle = {};  ///< what the sentence adds, as tell_compared does

  /// Does it set the least count instead of the largest one?
  [[nodiscard]] bool sets_least() const { return minimum || eases; }
  [[nodiscard]] bool keeps(double value) const { return minimum ? value >= limit : value <= limit; }
};

/// Where constraints put the keys of absent ratings.
using Missing = std::vector<std::string>;

/// Each of these appends to `missing` what it would need, and is empty where the channel lacks it or the mode has no
/// such stress.
using ConstraintMaker = std::optional<Constraint> (*)(const Channel&, Mode, Missing&);

std::optional<Constraint> continuous_current(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> switch_temperature(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> surge_temperature(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> repetitive_peak(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> current_rise(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> surge_peak(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> surge_i2t(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> breaker_trip(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> breaker_load(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> contact_make(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> turn_off_energy(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> latching_load(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> minimum_load(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> two_wire_load(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> terminal_release(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> ghosting(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> dimming_range(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> lamp_stress(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> lamp_harmonics(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> channel_harmonics(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> neutral_current(const Channel& channel, Mode mode, Missing& missing);
std::optional<Constraint> voltage_drop(const Channel& channel, Mode mode, Missing& missing);

/// All of the above that apply to the channel in this mode.
std::vector<Constraint> constraints_of(const Channel& channel, Mode mode, Missing& missing);

}  // namespace lampload
