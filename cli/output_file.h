#pragma once

#include <string>

namespace lampload {

/// To the file, whole or not at all; to standard output where `file` is empty. Throws Error{input_refused} where the
/// file cannot be written, and where it is a library or a key, or would lie among the keys.
void write_output(const std::string& file, const std::string& text);

}  // namespace lampload
