#pragma once
// Lamps that are switched off and on again at once. What is charged empties within seconds, what is warm stays warm for
// minutes: an inrush limiter that is still hot from running limits little.

#include <span>
#include <vector>

#include "core/circuit/drive.h"

namespace lampload {

struct WarmStart {
  std::vector<double> state;  ///< for LampGroup::start
  std::size_t hottest = 0;    ///< index of the operation before it
};

/// A lamp that has run for long in the one of these operations that leaves its slow states highest, and is switched on
/// again before it cools: slow states as running, all else at rest. The state is empty, at no cost, where the lamp has
/// no slow states: then it is at rest that a lamp draws most.
WarmStart warm_start(const Path& path, const Lamp& lamp, std::span<const Operation> operations);

/// Does the lamp have slow states?
bool stays_warm(const Lamp& lamp);

}  // namespace lampload
