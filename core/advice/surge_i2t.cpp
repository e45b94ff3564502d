#include "core/advice/constraint.h"

namespace lampload {

std::optional<Constraint> surge_i2t(const Channel& channel, Mode /*mode*/, Missing& missing) {
  if (!channel.output.surge_i2t_a2s) {
    missing.emplace_back("surge_i2t: output.surge_i2t_a2s");
    return std::nullopt;
  }
  return Constraint{.name = "surge_i2t",
                    .quantity = "I2t of the first half cycle",
                    .unit = "A2s",
                    .source = "channel rating, output.surge_i2t_a2s",
                    .limit = *channel.output.surge_i2t_a2s,
                    .of_turn_on = [](const TurnOnFigures& figures) { return figures.i2t_a2s; }};
}

}  // namespace lampload
