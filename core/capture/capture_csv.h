#pragma once
// A capture as text that gives every number back exactly.

#include <string>

#include "core/capture/capture.h"

namespace lampload {

/// Comma-separated rows of time_s, voltage_v and current_a below comment lines with start and interval; each number in
/// the fewest digits that read as the same double. read_capture() gives samples, start and interval back bit for bit
/// (of a capture as read_capture() makes it). comments: lines above, without their mark.
std::string capture_csv(const Capture& capture, const std::string& comments);

}  // namespace lampload
