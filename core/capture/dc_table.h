#pragma once
// A table of steady DC points of a lamp, as people write it down: a few rows of text.

#include <string>
#include <vector>

#include "core/capture/capture.h"

namespace lampload {

/// Reads comma-separated rows under a header with voltage_v [V], current_a [A] and, if known, uncertainty (standard
/// uncertainty of the current [A]; an empty cell: not known), in any order; # begins a comment line. Either sign.
/// Throws Error{input_refused} with file, line and column for whatever else, and for a point that gives power back.
std::vector<DcPoint> read_dc_table(const std::string& file);

}  // namespace lampload
