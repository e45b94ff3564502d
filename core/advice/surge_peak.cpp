#include "core/advice/constraint.h"

namespace lampload {

std::optional<Constraint> surge_peak(const Channel& channel, Mode /*mode*/, Missing& missing) {
  if (!channel.output.surge_peak_current_a) {
    missing.emplace_back("surge_peak: output.surge_peak_current_a");
    return std::nullopt;
  }
  return Constraint{.name = "surge_peak",
                    .quantity = "peak current of the first half cycle",
                    .unit = "A",
                    .source = "channel rating, output.surge_peak_current_a",
                    .limit = *channel.output.surge_peak_current_a,
                    .of_turn_on = [](const TurnOnFigures& figures) { return figures.peak_a; }};
}

}  // namespace lampload
