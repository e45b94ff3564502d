#pragma once
// What `plan` shows, to people and to other programs.

#include <string>
#include <vector>

#include "cli/terminal.h"
#include "core/advice/plan.h"

namespace lampload {

/// The answer, every channel and breaker in a line, then what does not hold and what would.
void show_plan(Screen& screen, const Installation& plan, const PlanVerdict& verdict);

/// "holds: 6 channels, 3 breakers"
std::string plan_in_short(const PlanVerdict& verdict);
/// "12 x stair candle, 2 x clubroom pendant"
std::string loads_in_words(const std::vector<LoadItem>& lamps);
/// "continuous current, 82 %"
std::string fullest_in_words(const LoadCheck& check);
/// Of all groups that start together: "59.0 A of 67.9 A".
std::string starts_in_words(const BreakerVerdict& breaker);
/// "10 ms needed, 50 ms planned"
std::string stagger_in_words(const BreakerVerdict& breaker);
void show_channel_fault(Screen& screen, const ChannelVerdict& one);
void show_breaker_fault(Screen& screen, const BreakerVerdict& one);

/// {"plan","holds","channels":[...],"breakers":[...]}
std::string plan_json(const Installation& plan, const PlanVerdict& verdict);

}  // namespace lampload
