#pragma once
// A whole installation judged: every channel with its lamps, every breaker with its channels.

#include <string>
#include <vector>

#include "core/advice/installation.h"
#include "core/advice/remedy.h"
#include "core/advice/shared_breaker.h"

namespace lampload {

struct ChannelVerdict {
  std::string room;
  std::string channel;
  LoadCheck check;
  bool mode_chosen = false;      ///< the plan does not say the mode
  std::vector<Remedy> remedies;  ///< for what does not hold; tried, each of them holds
};

struct PlanVerdict {
  bool holds = true;
  std::vector<ChannelVerdict> channels;  ///< in the order of the installation
  std::vector<BreakerVerdict> breakers;  ///< those that feed a channel
};

/// Where the plan does not say the mode: of those that hold a dimming one before on and off, then the one whose fullest
/// limit is used least; where none holds the one that misses least. Channels are judged side by side.
/// Throws Error{input_refused} for a mode that the channel cannot do, and where channels of one breaker are said to
/// have different supplies; else as check_load() does.
PlanVerdict judge_plan(const Installation& plan, const LoadJudge& judge = &check_load);

}  // namespace lampload
