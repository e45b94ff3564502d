#pragma once
// A channel in operation: the periodic steady state of a drive, and the first half cycle from rest.

#include <span>
#include <vector>

#include "core/circuit/lamp_trace.h"
#include "core/circuit/network.h"
#include "core/circuit/pulse_heat.h"
#include "core/circuit/secants.h"

namespace lampload {

enum class Drive { always_on, leading_edge, trailing_edge, off };

/// Conduction from firing to the zero crossing (leading edge), or from the zero crossing to the cut (trailing edge).
struct Operation {
  Drive drive = Drive::always_on;
  double conduction_deg = 180.0;  ///< of a half cycle
};

/// Samples of a simulation at the solver's own instants (not equidistant).
struct Waveform {
  std::vector<double> time_s;
  std::vector<double> supply_v;
  std::vector<double> terminal_v;
  std::vector<double> current_a;  ///< into all lamps
  std::vector<double> switch_a;
  std::vector<std::vector<double>> lamp_a;  ///< by group: current of one lamp of it
  /// By group: estimated light of one lamp (one_port.h); empty where its family does not say it, or it is not wanted.
  std::vector<std::vector<double>> light;
  bool with_light = false;
};

/// Of one half cycle, through the channel (all lamps together); where the supply's half cycles differ, of a whole one:
/// means over both, extremes of the worse.
struct SteadyFigures {
  double rms_a = 0.0;           ///< through the switch
  double mean_abs_a = 0.0;      ///< through the switch
  double peak_a = 0.0;          ///< through the switch
  double rise_a_per_s = 0.0;    ///< steepest rise of the switch current over 1 us after it closed
  double conduction_w = 0.0;    ///< lost in the switch while it is closed
  double cut_a = 0.0;           ///< magnitude of the current that the switch interrupted
  double cut_energy_j = 0.0;    ///< in source, cable and choke at that moment: L I^2 / 2
  double clamp_j = 0.0;         ///< into the open switch or its clamp, with what supply and lamps add
  double switching_w = 0.0;     ///< lost at the edges, where the path says how long they take
  double gate_end_a = 0.0;      ///< a triac's: magnitude at the end of the gate pulse
  double fallen_deg = 0.0;      ///< where the terminals have fallen below the path's sense level for good; over 180:
                                ///< not by the zero crossing
  double midway_a = 0.0;        ///< magnitude at the middle of the conduction interval
  double latch_a = 0.0;         ///< highest magnitude during the conduction interval
  double released_deg = 180.0;  ///< where a triac let go, in degrees of the half cycle; 180: it held on
  double terminal_rms_v = 0.0;
  double lamp_power_w = 0.0;       ///< into all lamps
  std::vector<LampFigures> lamps;  ///< by group
  bool periodic = false;           ///< false: no steady state within the half cycles allowed; of the last ones, means
                                   ///< of what heats and extremes of the rest
  int half_cycles = 0;             ///< that it took
};

/// Of the first half cycle's length after closing from rest; where contacts bounce, until that long after they rest.
struct TurnOnFigures {
  double peak_a = 0.0;
  double i2t_a2s = 0.0;
  double charge_c = 0.0;  ///< of |i|
  double rise_a_per_s = 0.0;
  double width_s = 0.0;  ///< time at or above half of the peak
  double phase_deg = 0.0;
  double junction_rise_k = 0.0;  ///< highest, by the surge alone, where the path says how its junction heats
  double running_w = 0.0;        ///< what the switch loses in operation; for those who ask for it
};

/// The steady state is looked for as the state that comes back after half a cycle (a whole one, where the supply's half
/// cycles differ), along secants of that map, so that slow states need not be waited for. Keeps state and secants
/// between calls: a neighbouring operating point starts from the last one.
class DrivenChannel {
 public:
  /// Throws as Network does.
  DrivenChannel(const Path& path, std::span<const LampGroup> lamps, const Accuracy& accuracy = {});

  /// Starts from the state another one is in (same families; count, parameters and supply may differ).
  void adopt(const DrivenChannel& other);
  /// `waveform`, where given, gets the two half cycles after the steady state is reached.
  SteadyFigures steady(const Operation& operation, Waveform* waveform = nullptr);
  /// The next half cycle as it comes, steady or not; a new channel is cold and discharged. The switch does not close
  /// before earliest_on_deg of it.
  SteadyFigures half_cycle(const Operation& operation, Waveform* waveform = nullptr, double earliest_on_deg = 0.0);
  /// So many of them; first_on_deg is for the first.
  void run(const Operation& operation, int half_cycles, Waveform& waveform, double first_on_deg = 0.0);

  /// So many half cycles with the switch open.
  void idle(int half_cycles, Waveform& waveform);
  /// True where the next half cycle is a positive one.
  [[nodiscard]] bool at_cycle_start() const { return half_cycle_ % 2 == 0; }
  /// Of the network, as Network::state(); states that change sign with the voltage as seen from a positive half cycle.
  [[nodiscard]] std::vector<double> state() const;
  /// The first half cycles from where it is, conduction rising from least_deg to that of the operation within ramp_s;
  /// the figures are those of the worst half cycle.
  TurnOnFigures soft_start(const Operation& operation, double least_deg, double ramp_s);

 private:
  void record(Waveform& waveform, const Instant& at) const;
  SteadyFigures period(const Operation& operation);
  void set_state(std::vector<double> state);
  /// What of a lamp state counts as one, by its unit.
  [[nodiscard]] std::vector<double> sizes(const std::vector<double>& state, const SteadyFigures& figures) const;

  Network network_;
  std::vector<Lamp> lamps_;
  double repeat_;
  bool symmetric_;
  double count_ = 0.0;                   ///< of all lamps
  std::vector<const StateSpec*> specs_;  ///< by lamp state
  std::vector<double> slow_s_;           ///< likewise: time constants of slow states (slow_state.h), else 0
  std::vector<std::size_t> reservoirs_;  ///< by group: which of its lamp's states is a reservoir; beyond them: none
  Secants secants_;
  double last_peak_a_ = 0.0;  ///< of the half cycle before
  long half_cycle_ = 0;
  PulseHeat heat_{0.0};
};

/// Closes the switch at phase_deg (0 to 180) onto lamps as their groups say (cold and discharged) and leaves it closed
/// for half a cycle. Contacts that bounce open again after half of their time and close once more at its end.
TurnOnFigures turn_on(const Path& path, std::span<const LampGroup> lamps, double phase_deg,
                      Waveform* waveform = nullptr, const Accuracy& accuracy = {});

}  // namespace lampload
