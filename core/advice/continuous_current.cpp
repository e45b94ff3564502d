#include <fmt/format.h>

#include <algorithm>

#include "core/advice/constraint.h"

namespace lampload {
namespace {

/// What is left of the rating in warmer air than it was given for. The room that the junction has for its loss shrinks
/// in a straight line, and the current at least as slowly as the loss: exact for a constant voltage, the safe side for
/// a resistance.
double derating(const Output& output, Missing& missing) {
  if (!output.derate_from_c) return 1.0;
  if (!output.ambient_c || !output.max_junction_c) {
    missing.emplace_back("continuous_current: output.ambient_c and output.max_junction_c, to derate the rating");
    return 1.0;
  }
  return std::clamp((*output.max_junction_c - *output.ambient_c) / (*output.max_junction_c - *output.derate_from_c),
                    0.0, 1.0);
}

}  // namespace

std::optional<Constraint> continuous_current(const Channel& channel, Mode /*mode*/, Missing& missing) {
  if (!channel.output.rated_current_a) {
    missing.emplace_back("continuous_current: output.rated_current_a");
    return std::nullopt;
  }
  const double left = derating(channel.output, missing);
  std::string source = "channel rating, output.rated_current_a";
  if (left < 1.0) {
    source += fmt::format(", derated from {:g} to {:g} degC", *channel.output.derate_from_c, *channel.output.ambient_c);
  }
  return Constraint{.name = "continuous_current",
                    .quantity = "rms current through the switch",
                    .unit = "A",
                    .source = std::move(source),
                    .limit = *channel.output.rated_current_a * left,
                    .of_steady = [](const SteadyFigures& figures) { return figures.rms_a; }};
}

}  // namespace lampload
