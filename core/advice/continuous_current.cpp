#include "core/advice/constraint.h"

namespace lampload {

std::optional<Constraint> continuous_current(const Channel& channel, Mode /*mode*/, Missing& missing) {
  if (!channel.output.rated_current_a) {
    missing.emplace_back("continuous_current: output.rated_current_a");
    return std::nullopt;
  }
  return Constraint{.name = "continuous_current",
                    .quantity = "rms current through the switch",
                    .unit = "A",
                    .source = "channel rating, output.rated_current_a",
                    .limit = *channel.output.rated_current_a,
                    .of_steady = [](const SteadyFigures& figures) { return figures.rms_a; }};
}

}  // namespace lampload
