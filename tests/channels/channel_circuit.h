#pragma once
// A channel with its lamps in ngspice, and the quantities of the constraints read off its waveforms by themselves.

#include <optional>
#include <string>
#include <vector>

#include "core/advice/load_check.h"
#include "core/circuit/drive.h"
#include "tests/reference/ngspice.h"

namespace lampload::test {

/// One operating point of a loaded channel.
struct OperatingCase {
  Channel channel;
  std::vector<LampGroup> lamps;
  Mode mode = Mode::on_off;
  bool turn_on = false;      ///< from rest, for half a cycle; otherwise steady
  double setting_deg = 0.0;  ///< conduction angle, or phase of the turn-on
  double supply_v = 230.0;   ///< rms
};

/// Waveforms of a turn-on, or of the last cycle of a steady run. Columns: through the switch, into the lamps, across
/// the switch, at the lamps.
struct ChannelRun {
  std::vector<double> time_s;  ///< from 0
  std::vector<double> switch_a, lamp_a, switch_v, terminal_v;
  std::vector<std::vector<double>> each_a;  ///< by group: into one lamp of it
  int helped = 0;                           ///< how much ngspice was helped to converge: 0 not at all, up to 4
  double drift = 0.0;                       ///< steady: change of the rms current over the last two cycles, relative
};

/// The circuit without options and .tran: lamp current i(Vlamps), switch current i(Vswitch), switch between nodes a and
/// b, lamps at b. start: as DrivenChannel::state(); from rest where empty.
std::string circuit_of(const OperatingCase& point, const std::vector<double>& start);

/// How a mode drives the switch.
Drive drive_of(Mode mode);

/// Steady runs start near the state that the program found and go on until the rms current of two cycles differs by
/// less than 0.2 %, so that a wrong start shows. step_s: the longest of a steady run; Gear's rule lowers the frequency
/// of a ringing by a third of (angular frequency times step) squared. Throws std::runtime_error as run_ngspice does.
ChannelRun simulate(const OperatingCase& point, double step_s = 1e-6);

/// Mean power into all lamps over the last of so many cycles, from this state (as DrivenChannel::state(), at a rising
/// zero crossing; from rest where empty). Throws as simulate().
double power_from(const OperatingCase& point, const std::vector<double>& start, int cycles);

/// What a constraint of this name says of the waveforms. Empty for one that is not read here.
std::optional<double> reading(const std::string& constraint, const OperatingCase& point, const ChannelRun& run);

/// What lamps on a DC output come to, by an operating point of ngspice: current side by side, or voltage in series.
double direct_total(const OperatingCase& point);

}  // namespace lampload::test
