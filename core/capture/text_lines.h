#pragma once
// Lines of a text file, after checking that it is a text file at all.

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

namespace lampload {

/// Streams a regular file line by line; memory does not grow with the file.
/// Throws Error{input_refused} for what is not a readable, non-empty UTF-8 text file, naming what it is instead.
class TextLines {
 public:
  explicit TextLines(const std::string& path);
  ~TextLines();
  TextLines(TextLines&&) noexcept;
  TextLines& operator=(TextLines&&) noexcept;

  /// The next line without its end and outer blanks; valid until the next call. Empty optional: end of file.
  std::optional<std::string_view> next();
  /// 1-based number of the line last returned.
  [[nodiscard]] std::size_t line() const { return line_; }
  [[nodiscard]] std::uintmax_t bytes() const { return bytes_; }
  /// False: the file stops in the middle of a line.
  [[nodiscard]] bool ends_with_newline() const { return ends_with_newline_; }

 private:
  struct Reader;
  std::string path_;
  std::unique_ptr<Reader> reader_;
  std::size_t line_ = 0;
  std::uintmax_t bytes_ = 0;
  bool ends_with_newline_ = true;
};

}  // namespace lampload
