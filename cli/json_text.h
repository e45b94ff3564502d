#pragma once

#include <string>
#include <string_view>

namespace lampload {

/// A JSON text that is also harmless on a terminal: what printable() would show otherwise, and JSON lets stand as it
/// is, is written as \uNNNN. It means the same.
std::string json_text(std::string_view json);

}  // namespace lampload
