#pragma once
// Whether what a lamp model file says can be true of a lamp.

#include "db/json_reader.h"
#include "db/library.h"

namespace lampload {

/// Of figures that the samples of a received capture give once more: as large a difference (relative, own choice, no
/// source) comes from other versions of the program, a larger one contradicts the file.
inline constexpr double measured_again_share = 0.02;

/// Family, parameters within the bounds of its table, intervals, covariances, figures among themselves. `object` is the
/// record that `lamp` was read from, for the place of a fault. Throws Error{input_refused}.
void check_physics(const LampRecord& lamp, const json::Object& object);

}  // namespace lampload
