#include "cli/json_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "core/unicode.h"

namespace lampload {
std::string json_text(std::string_view json) {
  std::string out;
  out.reserve(json.size());
  while (!json.empty()) {
    const auto plain =
        std::find_if(json.begin(), json.end(), [](char c) { return static_cast<unsigned char>(c) >= 0x7F; });
    out.append(json.begin(), plain);
    json.remove_prefix(static_cast<std::size_t>(plain - json.begin()));
    if (json.empty()) break;
    const auto [length, point] = first_character(json);
    // Below U+0020 there are only the line ends and blanks of the document's layout.
    if (length > 0 && ((point >= 0x7F && is_control(point)) || changes_direction(point))) {
      out += fmt::format("\\u{:04x}", static_cast<unsigned>(point));
    } else {
      out += json.substr(0, std::max<std::size_t>(length, 1));
    }
    json.remove_prefix(std::max<std::size_t>(length, 1));
  }
  return out;
}

std::string document_text(const nlohmann::ordered_json& document) {
  using Json = nlohmann::ordered_json;
  return json_text(document.dump(2, ' ', false, Json::error_handler_t::replace)) + "\n";
}

nlohmann::ordered_json known(const std::string& text) {
  return text.empty() ? nlohmann::ordered_json(nullptr) : nlohmann::ordered_json(text);
}

}  // namespace lampload
