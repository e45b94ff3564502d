#include "cli/json_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <utility>

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

namespace {

std::string dumped(const nlohmann::ordered_json& value) {
  return value.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
}

}  // namespace

std::string document_text(const nlohmann::ordered_json& document) { return json_text(dumped(document)) + "\n"; }

void DocumentWriter::begin(std::string_view key) {
  text_ += fmt::format("{}\n  \"{}\": ", std::exchange(first_member_, false) ? "" : ",", key);
}

void DocumentWriter::member(std::string_view key, const nlohmann::ordered_json& value) {
  begin(key);
  add(value, "  ");
}

void DocumentWriter::begin_list(std::string_view key) {
  begin(key);
  text_ += '[';
  first_element_ = true;
}

void DocumentWriter::element(const nlohmann::ordered_json& value) {
  text_ += std::exchange(first_element_, false) ? "\n    " : ",\n    ";
  add(value, "    ");
}

void DocumentWriter::end_list() { text_ += first_element_ ? "]" : "\n  ]"; }

std::string DocumentWriter::finish() && { return json_text(text_) + "\n}\n"; }

// Line ends inside texts are escaped: those that are left are of the layout.
void DocumentWriter::add(const nlohmann::ordered_json& value, std::string_view indent) {
  const std::string text = dumped(value);
  for (std::string_view left = text;;) {
    const auto end = left.find('\n');
    text_ += left.substr(0, end);
    if (end == std::string_view::npos) break;
    text_ += '\n';
    text_ += indent;
    left.remove_prefix(end + 1);
  }
}

nlohmann::ordered_json known(const std::string& text) {
  return text.empty() ? nlohmann::ordered_json(nullptr) : nlohmann::ordered_json(text);
}

}  // namespace lampload
