#pragma once
// Captures in text: rows of numbers below whatever stands above them. Which layouts: docs/captures.md.

#include <string>

#include "core/capture/capture.h"
#include "core/capture/layout.h"
#include "core/capture/readers.h"

namespace lampload {

/// Any text; how sure it is depends on what was found in it.
Recognition recognise_text_table(const FileStart& start);

/// Not conditioned yet; a channel that is not wanted stays empty. Throws Error{input_refused} with file, line and
/// column for anything that cannot be trusted.
Capture read_text_table(const std::string& path, const CaptureOptions& options, Channels channels);

/// The layout of a text as it is detected, as the text of a layout file. Where it is not clear which columns are meant,
/// that stays open in it. Throws Error{input_refused} where there are no rows of numbers.
std::string layout_text_of(const std::string& path, const CaptureOptions& options);

}  // namespace lampload
