#pragma once

#include <string>

namespace lampload {

/// To the file, whole or not at all; to standard output where `file` is empty. Throws Error{input_refused} where the
/// file cannot be written.
void write_output(const std::string& file, const std::string& text);

}  // namespace lampload
