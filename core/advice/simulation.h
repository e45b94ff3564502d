#pragma once
// What a scope would see: any lamps on a channel in one mode at one setting, as equidistant samples.

#include <optional>
#include <span>
#include <vector>

#include "core/advice/recommendation.h"
#include "core/circuit/path.h"

namespace lampload {

struct SimulationSetup {
  Mode mode = Mode::on_off;
  double setting = 0.0;            ///< conduction angle in degrees or duty; of no meaning for on_off
  std::optional<double> supply_v;  ///< rms or DC; empty: the channel's nominal one
  /// Empty: in steady operation. Else from cold and discharged lamps, after a cycle with the switch open: mains is
  /// switched on at this phase (0 to 180 degrees) of a half cycle, or at the firing where that comes later.
  std::optional<double> turn_on_deg;
  int cycles = 10;                          ///< of the mains or of the pulses, 1 to 10000
  std::optional<double> sample_interval_s;  ///< empty: 10 us on mains, a 400th of a period on pulses
};

struct SimulatedRecord {
  double sample_interval_s = 0.0;
  std::vector<double> supply_v;
  std::vector<double> terminal_v;
  std::vector<double> current_a;             ///< into all lamps (in series: through them)
  std::vector<std::vector<double>> lamps_a;  ///< by group: into all lamps of it
  bool settled = true;                       ///< false: no steady state was found before the record began
};

/// Throws Error{input_refused} where the lamps cannot be fed in this mode, the channel lacks what it takes, or a number
/// is out of range; Error{calculation} where the circuit cannot be solved.
SimulatedRecord simulate(const Channel& channel, std::span<const LampGroup> lamps, const SimulationSetup& setup);

}  // namespace lampload
