#include "core/advice/constraint.h"
#include "core/standards/breaker.h"

namespace lampload {

// The short-pulse factor is left at 1: it is the maker's figure, in no standard, and 1 is the safe side.
std::optional<Constraint> breaker_trip(const Channel& channel, Mode /*mode*/, Missing& missing) {
  if (!channel.breaker) {
    missing.emplace_back("breaker_trip: breaker");
    return std::nullopt;
  }
  return Constraint{.name = "breaker_trip",
                    .quantity = "inrush against the instantaneous trip of the breaker",
                    .unit = "A",
                    .source = "IEC 60898-1, lower end of the instantaneous band, rms to peak, short-pulse factor 1",
                    .limit = no_trip_peak_a(channel.breaker->curve, channel.breaker->rating_a),
                    .of_turn_on = [](const TurnOnFigures& figures) { return figures.peak_a; }};
}

std::optional<Constraint> breaker_load(const Channel& channel, Mode /*mode*/, Missing& /*missing*/) {
  if (!channel.breaker) return std::nullopt;
  return Constraint{.name = "breaker_load",
                    .quantity = "rms current through the breaker",
                    .unit = "A",
                    .source = "rated current of the breaker, IEC 60898-1",
                    .limit = channel.breaker->rating_a,
                    .of_steady = [](const SteadyFigures& figures) { return figures.rms_a; }};
}

}  // namespace lampload
