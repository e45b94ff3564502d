#pragma once
// Reading a capture from a file. Which layouts are understood: docs/captures.md.

#include <string>
#include <vector>

#include "core/capture/capture.h"

namespace lampload {

/// Reads one file and conditions it: columns, units and separators found, scales, offsets, polarity and delay applied,
/// a reversed clamp turned (and said in Capture::notes).
/// Throws Error{input_refused} with file, line and column for anything that cannot be trusted; never returns a partial
/// capture.
Capture read_capture(const std::string& path, const CaptureOptions& options = {});

/// The files behind a path that read_capture() takes: itself, or the two of VOLTAGE+CURRENT.
std::vector<std::string> files_of_capture(const std::string& path);

}  // namespace lampload
