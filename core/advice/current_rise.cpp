#include "core/advice/constraint.h"

namespace lampload {

// Averaged over 1 us: a bare triac takes about that long to turn on, and what the current does within it is not the
// stress the rating speaks of. With a leading edge it is repeated every half cycle.
std::optional<Constraint> current_rise(const Channel& channel, Mode mode, Missing& missing) {
  if (!channel.output.di_dt_a_per_us) {
    missing.emplace_back("current_rise: output.di_dt_a_per_us");
    return std::nullopt;
  }
  Constraint constraint{.name = "current_rise",
                        .quantity = "rise of the switch current over 1 us",
                        .unit = "A/us",
                        .source = "channel rating, output.di_dt_a_per_us",
                        .limit = *channel.output.di_dt_a_per_us};
  if (mode == Mode::leading_edge) {
    constraint.of_steady = [](const SteadyFigures& figures) { return figures.rise_a_per_s * 1e-6; };
  } else {
    constraint.of_turn_on = [](const TurnOnFigures& figures) { return figures.rise_a_per_s * 1e-6; };
  }
  return constraint;
}

}  // namespace lampload
