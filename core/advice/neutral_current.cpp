#include "core/advice/constraint.h"

namespace lampload {

// Three phases with equal channels: the fundamentals cancel in the neutral, the orders that 3 divides add up. Pulses of
// less than a third of a half cycle do not overlap at all: then the neutral carries 1.73 times the current of a phase.
std::optional<Constraint> neutral_current(const Channel& channel, Mode /*mode*/, Missing& missing) {
  if (!channel.cable || !channel.cable->shared_neutral.value_or(false)) return std::nullopt;
  if (!channel.cable->rated_current_a) {
    missing.emplace_back("neutral_current: cable.rated_current_a");
    return std::nullopt;
  }
  return Constraint{.name = "neutral_current",
                    .quantity = "rms current in the neutral of three phases with channels like this one",
                    .unit = "A",
                    .source = "conductor rating, cable.rated_current_a",
                    .limit = *channel.cable->rated_current_a,
                    .of_cycle = [](const LineCycle& cycle) { return cycle.neutral_rms_a; }};
}

}  // namespace lampload
