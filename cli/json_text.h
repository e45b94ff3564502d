#pragma once
// JSON as it is printed.

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

namespace lampload {

/// A JSON text that is also harmless on a terminal: what printable() would show otherwise, and JSON lets stand as it
/// is, is written as \uNNNN. It means the same.
std::string json_text(std::string_view json);
/// A whole document over several lines, harmless likewise. Text that is not UTF-8 is replaced.
std::string document_text(const nlohmann::ordered_json& document);

/// null where a text is empty.
nlohmann::ordered_json known(const std::string& text);

}  // namespace lampload
