#pragma once
// One breaker with everything behind it: what it carries, and what the starts of its channels ask of it.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/advice/installation.h"

namespace lampload {

/// Channels that start together.
struct StartVerdict {
  std::vector<std::string> channels;  ///< in the order in which they start
  CheckedConstraint inrush;           ///< "breaker_trip", with the stagger that is planned
  double together_a = 0.0;            ///< all at the same moment, the breaker's other channels running
  double stagger_s = 0.0;             ///< that is planned
  /// Least time between two starts that keeps the limit; 0: none is needed. Empty: no stagger keeps it.
  std::optional<double> least_stagger_s;
};

struct BreakerVerdict {
  std::string board;
  std::string name;
  Breaker breaker;
  std::vector<std::string> channels;
  bool holds = true;
  CheckedConstraint load;                ///< "breaker_load"
  std::vector<StartVerdict> starts;      ///< one for each group of channels that start together
  std::vector<std::string> suggestions;  ///< for what does not hold
  std::vector<std::string> not_checked;
};

/// A channel behind the breaker, with what its own check found.
struct CheckedChannel {
  const PlannedChannel* planned = nullptr;
  const LoadCheck* check = nullptr;
};

/// Currents of the channels are added as they are: rms values at their highest, inrush as if all peaks came at one
/// moment and no channel saw another's drop along the supply. Both are the safe side. A start is judged with all
/// other channels of the breaker running. Channels with a DC output take no part and are named in not_checked.
BreakerVerdict judge_breaker(const PlannedBreaker& breaker, std::span<const CheckedChannel> channels);

}  // namespace lampload
