#pragma once
// Layouts written down in files: docs/formats/layout.md.

#include <string>

#include "core/capture/capture.h"
#include "core/capture/layout.h"

namespace lampload {

/// Throws Error{input_refused} with file, line and key for anything that is no layout.
WrittenLayout read_layout_file(const std::string& file);

/// Columns and interval of the layout where the options say none: what a person says goes first.
void take_from_layout(CaptureOptions& options);

/// The text of a layout file. chosen: without a column that is not clear, which a comment lists to be filled in.
std::string layout_file_text(const Layout& layout, const ChosenColumns& chosen, const std::string& of_file);

}  // namespace lampload
