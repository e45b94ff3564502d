#pragma once
// How the current of a start decays: the highest current of each half cycle after the switch has closed.

#include <span>
#include <vector>

#include "core/circuit/path.h"

namespace lampload {

/// Closes the switch at phase_deg (0 to 180) onto cold, discharged lamps and leaves it closed. Entry k is the highest
/// magnitude of the switch current from k to k + 1 half cycles after that [A]. Throws as Network does.
std::vector<double> start_envelope(const Path& path, std::span<const LampGroup> lamps, double phase_deg,
                                   int half_cycles);

/// The highest sum of several starts `apart` half cycles from each other, each of them running on at its last value.
/// Half cycles are not told apart any finer: peaks of one are taken as if they came at one moment.
double highest_sum(std::span<const std::vector<double>> envelopes, int apart);

}  // namespace lampload
