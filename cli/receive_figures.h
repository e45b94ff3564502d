#pragma once
// The figures of a lamp model file against the captures inside.

#include "cli/receive_differences.h"

namespace lampload {

/// Measures every capture that has samples again and compares each figure; the notes on quality are not compared.
/// Throws Error{input_refused} with the key and both values.
void check_measured(const LampRecord& lamp, Differences& differences);

}  // namespace lampload
