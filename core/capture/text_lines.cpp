#include "core/capture/text_lines.h"

#include <algorithm>

#include "core/capture/quantity.h"

namespace lampload {

std::optional<std::string_view> TextLines::next() {
  if (left_.empty()) {
    if (!blocks_.next(block_)) return std::nullopt;
    left_ = block_.text();
  }
  ++line_;
  return trimmed(take_line(left_));
}

std::string_view take_line(std::string_view& text) {
  const std::size_t end = std::min(text.find('\n'), text.size() - 1) + 1;
  const std::string_view line = text.substr(0, end);
  text.remove_prefix(end);
  return line;
}

}  // namespace lampload
