#pragma once
// An installation as a schedule for the cabinet door: a sheet a distribution board.

#include <optional>
#include <string>
#include <vector>

#include "core/advice/dimming.h"
#include "core/advice/plan.h"

namespace lampload {

/// What the firmware of one channel may use: the dimming range of its load over the supply's tolerance. Empty where the
/// mode does not dim, or a lamp has no circuit.
std::optional<DimmingRange> firmware_range(const PlannedChannel& channel, Mode mode);

/// `ranges`: by channel. The sheets are those of the plan's boards in their order, then one for channels without.
std::string schedule_html(const Installation& plan, const PlanVerdict& verdict,
                          const std::vector<std::optional<DimmingRange>>& ranges);

}  // namespace lampload
