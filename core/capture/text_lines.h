#pragma once
// Lines of a text file, one after the other: for files that are short, or the beginning of long ones.

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

#include "core/capture/text_blocks.h"

namespace lampload {

/// Throws as TextBlocks does.
class TextLines {
 public:
  explicit TextLines(const std::string& path) : blocks_(path) {}

  /// The next line without its end and outer blanks; valid until the next call. Empty optional: end of file.
  std::optional<std::string_view> next();
  /// 1-based number of the line last returned.
  [[nodiscard]] std::size_t line() const { return line_; }

 private:
  TextBlocks blocks_;
  TextBlock block_;
  std::string_view left_;
  std::size_t line_ = 0;
};

/// Takes the first line off a text, its end included.
std::string_view take_line(std::string_view& text);

}  // namespace lampload
