#pragma once
// How firm an answer is: what was captured of the lamp, and what finished channels have shown of it since.

#include <string>
#include <vector>

#include "core/advice/recommendation.h"

namespace lampload {

struct Confidence {
  std::string level;                  ///< "measured", "interpolated" or "extrapolated"
  std::string reason;                 ///< sentence
  std::vector<std::string> cautions;  ///< finished channels that did something else
};

/// By the captures alone: measured where the lamp was captured in this mode and at a turn-on (which a channel that
/// turns on at the zero crossing does not need), interpolated with one of both. Of the comparisons made in this mode
/// the last of each channel counts: one that does not agree lowers it by a step, else one that agrees raises it by a
/// step.
Confidence confidence_of(const LampEvidence& lamp, Mode mode, const Channel& channel);

}  // namespace lampload
