#pragma once
// The text of a file in stretches of whole lines, packed or not, in whatever encoding, after checking that it is text.

#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

namespace lampload {

/// A stretch of text; its memory is kept for the next one.
class TextBlock {
 public:
  [[nodiscard]] std::string_view text() const { return {bytes_.get(), size_}; }
  [[nodiscard]] std::size_t first_line() const { return first_line_; }  ///< 1-based, in the file

 private:
  friend class TextBlocks;
  void make_room(std::size_t size);
  std::unique_ptr<char[]> bytes_;
  std::size_t room_ = 0;
  std::size_t size_ = 0;
  std::size_t first_line_ = 1;
};

/// Reads a regular file as UTF-8; memory does not grow with the file.
/// Throws Error{input_refused} for what is not a readable, non-empty text file, naming what it is instead.
class TextBlocks {
 public:
  static constexpr std::size_t usual_bytes = std::size_t{1} << 20U;
  static constexpr std::size_t longest_line = std::size_t{1} << 24U;

  explicit TextBlocks(const std::string& path);
  ~TextBlocks();
  TextBlocks(TextBlocks&&) noexcept;
  TextBlocks& operator=(TextBlocks&&) noexcept;

  /// The next lines, each with its end; the file's last one may have none. False: nothing is left.
  bool next(TextBlock& block);
  /// Of the file as it lies on the disk, packed or not.
  [[nodiscard]] std::uintmax_t file_bytes() const;
  /// False: the file stops in the middle of a line. Asked after the last block.
  [[nodiscard]] bool ends_with_newline() const;
  /// What had to be done to read it: "gzip", "zstd" or empty; "UTF-16", "Latin-1" or empty.
  [[nodiscard]] std::string_view packing() const;
  [[nodiscard]] std::string_view encoding() const;

 private:
  struct Source;
  std::unique_ptr<Source> source_;
  std::string carried_;  ///< the beginning of a line whose end was not read yet
  std::size_t line_ = 1;
  bool ended_ = false;
  bool ends_with_newline_ = false;
};

/// A line without its end and outer blanks. Tabs in front stay: they may be empty cells.
std::string_view line_content(std::string_view line);

}  // namespace lampload
