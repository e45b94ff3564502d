#pragma once
// What `plan` shows, to people and to other programs.

#include <string>

#include "cli/terminal.h"
#include "core/advice/plan.h"

namespace lampload {

/// The answer, every channel and breaker in a line, then what does not hold and what would.
void show_plan(Screen& screen, const Installation& plan, const PlanVerdict& verdict);

/// {"plan","holds","channels":[...],"breakers":[...]}
std::string plan_json(const Installation& plan, const PlanVerdict& verdict);

}  // namespace lampload
