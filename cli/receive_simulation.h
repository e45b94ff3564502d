#pragma once
// The figures of a lamp model file against a simulation of its circuit.

#include "cli/receive_differences.h"
#include "core/lamp/lamp.h"

namespace lampload {

/// Of every capture that the fit was made from: steady ones and cut ones by current and power, turn-ons by the surge's
/// peak and I2t. Throws Error{input_refused} with the key and both values.
void check_simulated(const LampRecord& lamp, const FamilyInfo& family, const std::vector<double>& parameters,
                     Differences& differences);

}  // namespace lampload
