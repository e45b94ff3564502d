#include <fmt/format.h>

#include "core/advice/constraint.h"

namespace lampload {

// A lamp with a capacitor holds its terminals up after a trailing cut. Where the zero crossing is sensed across the
// lamps, it is seen late or not at all if they have not fallen by then.
std::optional<Constraint> terminal_release(const Channel& channel, Mode mode, Missing& /*missing*/) {
  if (mode != Mode::trailing_edge || !channel.output.zero_cross_sense_v) return std::nullopt;
  return Constraint{
      .name = "terminal_release",
      .quantity = fmt::format("angle of the half cycle at which the lamps' terminals have fallen below {:g} V",
                              *channel.output.zero_cross_sense_v),
      .unit = "deg",
      .source = "next zero crossing, sensed across the lamps; output.zero_cross_sense_v",
      .limit = 180.0,
      .eases = true,
      .of_steady = [](const SteadyFigures& figures) { return figures.fallen_deg; }};
}

}  // namespace lampload
