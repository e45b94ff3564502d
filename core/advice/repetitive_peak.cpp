#include "core/advice/constraint.h"

namespace lampload {

std::optional<Constraint> repetitive_peak(const Channel& channel, Mode /*mode*/, Missing& missing) {
  if (!channel.output.repetitive_peak_current_a) {
    missing.emplace_back("repetitive_peak: output.repetitive_peak_current_a");
    return std::nullopt;
  }
  return Constraint{.name = "repetitive_peak",
                    .quantity = "peak current of each half cycle",
                    .unit = "A",
                    .source = "channel rating, output.repetitive_peak_current_a",
                    .limit = *channel.output.repetitive_peak_current_a,
                    .of_steady = [](const SteadyFigures& figures) { return figures.peak_a; }};
}

}  // namespace lampload
