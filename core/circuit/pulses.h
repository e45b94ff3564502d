#pragma once
// Lamps on a pulsed DC supply: side by side on voltage pulses, or in series on current pulses.

#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "core/circuit/drive.h"

namespace lampload {

/// Pulses per second where the channel does not say it. Common practice, no source.
inline constexpr double usual_pulse_hz = 1000.0;

/// Of one period, all lamps together.
struct PulseFigures {
  double mean_a = 0.0;
  double rms_a = 0.0;
  double peak_a = 0.0;
  double mean_v = 0.0;  ///< at the terminals
  double lamp_power_w = 0.0;
  bool periodic = false;  ///< false: no steady state within the periods allowed
};

/// Voltage pulses through the resistance of cable and switch; between them the terminals are held at 0 V, as by a
/// freewheeling diode without a drop. Keeps its state between calls, so that a neighbouring duty starts from the last.
class PulsedVoltage {
 public:
  /// Throws Error{usage} without lamps, Error{input_refused} where the channel does not say its supply_voltage_v.
  /// supply_v: in place of the channel's.
  PulsedVoltage(const Channel& channel, std::span<const LampGroup> lamps, std::optional<double> supply_v = {});

  /// Runs periods until they repeat. `waveform`, where given, gets the last period.
  PulseFigures steady(double duty, Waveform* waveform = nullptr);
  [[nodiscard]] double time_s() const { return time_s_; }
  /// So many periods from the present state on.
  void run(double duty, int periods, Waveform& waveform);

 private:
  struct Node {
    double terminal_v, current_a;
  };
  PulseFigures period(double duty, Waveform* waveform);
  Node step(double source_v, double dt_s);
  void record(Waveform& waveform, double source_v, const Node& node) const;
  [[nodiscard]] std::vector<double> states() const;

  double supply_v_;
  double period_s_;
  double resistance_ohm_;
  std::vector<LampGroup> lamps_;
  std::vector<std::unique_ptr<LampDevice>> devices_;
  std::vector<double> lamp_a_;
  std::vector<bool> slow_;  ///< by state: judged for repetition
  double time_s_ = 0.0;
  double terminal_v_ = 0.0;
  double charge_c_ = 0.0;  ///< of the last step
};

/// Current pulses through lamps in series, in closed form. Throws Error{usage} without lamps, Error{input_refused}
/// where the channel does not say its current_a or a lamp has no static characteristic. `waveform` gets one period,
/// after what it holds.
PulseFigures pulsed_current(const Channel& channel, std::span<const LampGroup> lamps, double duty,
                            Waveform* waveform = nullptr);

}  // namespace lampload
