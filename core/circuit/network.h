#pragma once
// The network solver: one supply, one path, lamps at one node, stepped through time.

#include <functional>
#include <memory>
#include <span>
#include <vector>

#include "core/circuit/path.h"

namespace lampload {

/// What a network shows at one instant. Time 0 is a rising zero crossing of the supply.
struct Instant {
  double time_s = 0.0;
  double supply_v = 0.0;
  double terminal_v = 0.0;     ///< at the lamps
  double current_a = 0.0;      ///< into all lamps
  double switch_a = 0.0;       ///< through the switch itself (the snubber's discharge passes it too)
  double switch_v = 0.0;       ///< across the switch
  double lamp_charge_c = 0.0;  ///< into all lamps during the step that ended here
  bool rings = false;          ///< the line's inductance rings freely with the lamps' capacitance,
  double current_slope = 0.0;  ///< and the current changes by this [A/s]
};

/// How closely a simulation follows the circuit. The default keeps currents within 1 % of the peak; `estimating` costs
/// half and is for what many half cycles are needed for; `screening` finds the worst of many operating points.
struct Accuracy {
  double step = 5e-3;          ///< of peak current and voltage: how far a step may end from the last ones' parabola
  double close_steps = 800.0;  ///< so many steps after an event the tolerance widens, and ringing is damped out
  double repeat = 1e-3;        ///< of a state, by which half cycles count as alike
  double ringing_step = 0.25;  ///< angular frequency times step, of a ringing that is followed
  double longest_step_s = 100e-6;
  double node = 5e-5;  ///< of the supply's peak: last correction of the node's voltage, which is carried through
};
inline constexpr Accuracy estimating{.step = 2e-2, .close_steps = 150.0, .repeat = 1e-2};
inline constexpr Accuracy screening{
    .step = 2e-2, .close_steps = 160.0, .repeat = 1e-2, .ringing_step = 0.5, .longest_step_s = 300e-6, .node = 2e-4};

/// Steps are chosen by the solver: 20 ns after a switching instant, up to longest_step_s where nothing happens. The
/// node voltage is found by a safeguarded Newton iteration on the lamps' companion form.
class Network {
 public:
  /// Called after each step with its two ends; returning false stops the run there.
  using Observer = std::function<bool(const Instant& before, const Instant& after)>;

  /// The lamps as their groups say (cold and discharged), switch open, at time_s. Throws Error{usage} without lamps or
  /// with a count below 1.
  Network(const Path& path, std::span<const LampGroup> lamps, double time_s = 0.0, const Accuracy& accuracy = {});

  void set_closed(bool closed);
  /// Steps are cut short so that a run has an instant within 1 us after the switch current falls below this; 0: off.
  void watch(double level_a) { watch_a_ = level_a; }
  /// Size of the currents to come, which they are simulated in proportion to; else the largest of those lately seen.
  void expect(double current_a) { current_scale_a_ = current_a; }
  [[nodiscard]] bool closed() const { return closed_; }
  [[nodiscard]] const Instant& now() const { return now_; }
  [[nodiscard]] const Path& path() const { return path_; }

  /// Runs to time_s exactly, or to where the observer stops it. Throws Error{calculation} where a step cannot be
  /// solved.
  void run_to(double time_s, const Observer& observer);

  /// States of all lamps, one span a group.
  [[nodiscard]] std::span<const std::unique_ptr<LampDevice>> devices() const { return devices_; }
  /// How many lamps each of them stands for.
  [[nodiscard]] std::span<const int> counts() const { return counts_; }

  /// Current of one lamp of each group, at now(). Where a current jumps onto a capacitance, of the step that ended
  /// here.
  [[nodiscard]] std::span<const double> lamp_currents_a() const { return lamp_a_; }

  /// Goes on from where another network of the same families is: time, node, lamp states. Currents are taken by the
  /// ratio of the counts.
  void adopt(const Network& other);

  /// What the next step starts from, in this order: voltage at the lamps, current, voltages of snubber capacitor and
  /// series inductance, then every lamp state. Sums of states with weights that add up to 1 are states again.
  [[nodiscard]] std::vector<double> state() const;
  void set_state(std::span<const double> state);
  static constexpr std::size_t node_states = 4;
  static constexpr std::size_t current_state = 1;  ///< the entry that goes with the count

 private:
  struct Trial {
    Instant end;
    double snubber_v = 0.0;
    double guess_v = 0.0;        ///< of the terminal voltage, before the lamps were asked
    double moved_v = 0.0;        ///< terminal voltage since the lamps' last proposal
    bool idle = false;           ///< the lamps take next to nothing, whatever the voltage
    double capacitance_f = 0.0;  ///< of lamps that are next to nothing else; 0: they are something else
    double drain_a = 0.0;        ///< what such lamps take besides
    bool amplifies = false;      ///< they take less the higher the voltage, and drive a ringing on
    bool solved = false;
  };
  /// A parabola through the last steps: predicts the next one, and by its miss says how long that may be.
  struct Trend {
    double slope = 0.0;  ///< at the end of the last step
    double curvature = 0.0;
    double last_slope = 0.0;  ///< mean of the last step
    double last_dt_s = 0.0;
    void add(double change, double dt_s);
    [[nodiscard]] double ahead(double dt_s) const { return dt_s * (slope + 0.5 * curvature * dt_s); }
  };
  struct LampSum {
    double current_a, current_slope, charge_c, charge_slope;
  };
  /// The network at the end of a step, but for the terminal voltage.
  struct Balance {
    double by_charge = 0.0;  ///< 0: met by current, 1: by charge
    double straight = 1.0;   ///< < 1 damps two inductances in series
    double weight = 1.0;     ///< of the end of the step, in the line's inductance
    double line_s = 0.0, line_v = 0.0;
    double leak_s = 0.0, shunt_s = 0.0, shunt_a = 0.0;  ///< across the switch
  };
  /// What flows at a terminal voltage, and where Newton's rule goes from there.
  struct Flow {
    double net_s = 0.0, switch_v = 0.0, current_a = 0.0, slope_s = 0.0, miss_a = 0.0, next_v = 0.0;
  };
  void restart();  // small steps, no trend
  [[nodiscard]] LampSum propose(double v0, double v1, double dt_s) const;
  [[nodiscard]] Balance balance(const LampSum& lamps, double dt_s) const;
  [[nodiscard]] Flow flow(const Balance& balance, const LampSum& lamps, double v1, double dt_s) const;
  [[nodiscard]] Trial solve(double dt_s, double guess_v) const;
  [[nodiscard]] bool rings(const Trial& trial) const;
  [[nodiscard]] double expected_change(double dt_s, bool judged) const;
  void accept(const Trial& trial, double dt_s);

  Path path_;
  Accuracy accuracy_;
  std::vector<int> counts_;
  std::vector<std::unique_ptr<LampDevice>> devices_;
  std::vector<double> lamp_a_;
  Instant now_;
  bool closed_ = false;
  double snubber_v_ = 0.0;   ///< across the snubber's capacitor
  double inductor_v_ = 0.0;  ///< across the series inductance, at now_
  double next_dt_s_ = 0.0;
  Trend terminal_;
  Trend current_;
  bool idle_ = false;
  double capacitance_f_ = 0.0, drain_a_ = 0.0;  ///< of the last step, as in Trial
  int steps_since_event_ = 0;
  double current_scale_a_ = 0.0;
  double watch_a_ = 0.0;
};

}  // namespace lampload
