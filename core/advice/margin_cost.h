#pragma once
// What each margin costs of the count: from the count with central values to the one that is recommended.

#include <optional>

#include "core/advice/recommendation.h"

namespace lampload {

/// Counts, each with the margins of those before it and one more.
struct MarginCost {
  int central = 0;           ///< nominal supply, central parameters, all pieces alike
  int with_tolerance = 0;    ///< the supply at its ends
  int with_uncertainty = 0;  ///< the lamp's parameters at the unfavourable end of what the captures leave open
  int with_spread = 0;       ///< pieces that differ: max_lamps
};

/// Of one mode of a mains channel. Empty where the lamp has no circuit, the channel gives DC, or the answer holds no
/// such mode. Throws as recommend() does.
std::optional<MarginCost> margin_cost(const LampEvidence& lamp, const Channel& channel, const Recommendation& answer);

}  // namespace lampload
