#pragma once
// Lines of a text file, packed or not, in whatever encoding, after checking that it is a text file at all.

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

namespace lampload {

/// Streams a regular file line by line as UTF-8; memory does not grow with the file.
/// Throws Error{input_refused} for what is not a readable, non-empty text file, naming what it is instead.
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
  /// Of the file as it lies on the disk, packed or not.
  [[nodiscard]] std::uintmax_t bytes() const { return bytes_; }
  /// False: the file stops in the middle of a line. Asked after the last line.
  [[nodiscard]] bool ends_with_newline() const;
  /// What had to be done to read it: "gzip", "zstd" or empty; "UTF-16", "Latin-1" or empty.
  [[nodiscard]] std::string_view packing() const { return packing_; }
  [[nodiscard]] std::string_view encoding() const { return encoding_; }

 private:
  struct Reader;
  std::string path_;
  std::unique_ptr<Reader> reader_;
  std::size_t line_ = 0;
  std::uintmax_t bytes_ = 0;
  std::string_view packing_;
  std::string_view encoding_;
};

}  // namespace lampload
