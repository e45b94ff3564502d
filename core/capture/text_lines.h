#pragma once
// Lines of a text file, one after the other: for files that are short, or the beginning of long ones.

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace lampload {

/// A file's lines, cut by fast-cpp-csv-parser's line reader. Throws as TextBlocks does.
class TextLines {
 public:
  explicit TextLines(const std::string& path);
  ~TextLines();
  TextLines(const TextLines&) = delete;
  TextLines& operator=(const TextLines&) = delete;

  /// The next line without its end and outer blanks; valid until the next call. Empty optional: end of file.
  std::optional<std::string_view> next();
  /// 1-based number of the line last returned.
  [[nodiscard]] std::size_t line() const;

 private:
  class Reader;
  std::unique_ptr<Reader> reader_;
};

/// At most the first `most` lines of a text, each without its end and outer blanks; tabs in front stay.
std::vector<std::string> first_lines(std::string_view text, std::size_t most);

/// Takes the first line off a text, its end included.
std::string_view take_line(std::string_view& text);

}  // namespace lampload
