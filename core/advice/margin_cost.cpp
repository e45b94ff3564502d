#include "core/advice/margin_cost.h"

#include <algorithm>

#include "core/advice/constraint.h"
#include "core/advice/unfavourable.h"
#include "core/advice/verdict.h"

namespace lampload {
namespace {

int count_with(const LampEvidence& lamp, const Channel& channel, Mode mode) {
  Missing missing;
  return judge_mode(lamp, unfavourable_lamps(lamp), channel, mode, constraints_of(channel, mode, missing))
      .verdict.max_lamps;
}

LampEvidence all_alike(LampEvidence lamp) {
  for (FigureSpread* figure : {&lamp.spread.continuous_current, &lamp.spread.repetitive_peak, &lamp.spread.surge_peak,
                               &lamp.spread.surge_i2t}) {
    figure->spread = 0.0;
  }
  return lamp;
}

LampEvidence known_exactly(LampEvidence lamp) {
  lamp.covariance.clear();
  lamp.lower_95.clear();
  lamp.upper_95.clear();
  return lamp;
}

}  // namespace

std::optional<MarginCost> margin_cost(const LampEvidence& lamp, const Channel& channel, const Recommendation& answer) {
  const bool on_mains = channel.output.kind == OutputKind::phase_cut || channel.output.kind == OutputKind::relay;
  if (!lamp.lamp || !on_mains || answer.mode == Mode::none) return std::nullopt;
  const LampEvidence alike = all_alike(lamp);
  MarginCost cost;
  cost.central = answer.max_lamps_nominal;
  cost.with_spread = answer.max_lamps;
  // A margin cannot raise the count; single lamps between whole numbers may.
  cost.with_tolerance =
      std::clamp(count_with(known_exactly(alike), channel, answer.mode), cost.with_spread, cost.central);
  cost.with_uncertainty = std::clamp(count_with(alike, channel, answer.mode), cost.with_spread, cost.with_tolerance);
  return cost;
}

}  // namespace lampload
