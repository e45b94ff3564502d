#include "core/capture/text_lines.h"

#define CSV_IO_NO_THREAD  // what is wrong with a file is thrown to whoever reads it, not in a thread
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wstringop-truncation"  // the library cuts a file's name in its own messages
#endif
#include <libfccp/csv.h>
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC diagnostic pop
#endif

#include <algorithm>
#include <cstring>

#include "core/capture/quantity.h"
#include "core/capture/text_blocks.h"
#include "core/error.h"

namespace lampload {
namespace {

/// The text of a file, unpacked and as UTF-8, as the line reader takes it.
class FileText : public io::ByteSourceBase {
 public:
  explicit FileText(const std::string& path) : blocks_(path) {}

  int read(char* to, int size) override {
    const auto wanted = static_cast<std::size_t>(size);
    std::size_t got = 0;
    while (got < wanted) {
      if (left_.empty()) {
        if (!blocks_.next(block_)) break;
        left_ = block_.text();
      }
      const std::size_t now = std::min(wanted - got, left_.size());
      std::memcpy(to + got, left_.data(), now);
      left_.remove_prefix(now);
      got += now;
    }
    return static_cast<int>(got);
  }

 private:
  TextBlocks blocks_;
  TextBlock block_;
  std::string_view left_;
};

}  // namespace

class TextLines::Reader {
 public:
  explicit Reader(const std::string& path) : path_(path), lines_(path, std::make_unique<FileText>(path)) {}

  const char* next() {
    try {
      return lines_.next_line();
    } catch (const io::error::line_length_limit_exceeded&) {
      throw Error(ErrorCode::input_refused, "the line is longer than 16 million characters",
                  Place{.file = path_, .line = line()}, "Write it in lines.");
    }
  }
  [[nodiscard]] std::size_t line() const { return lines_.get_file_line(); }

 private:
  std::string path_;
  io::LineReader lines_;
};

TextLines::TextLines(const std::string& path) : reader_(std::make_unique<Reader>(path)) {}
TextLines::~TextLines() = default;

std::optional<std::string_view> TextLines::next() {
  const char* const line = reader_->next();
  if (line == nullptr) return std::nullopt;
  return trimmed(line);
}

std::size_t TextLines::line() const { return reader_->line(); }

// Not by the library's reader: it makes room for 48 MiB first, which a checked build fills at each file's recognition.
std::vector<std::string> first_lines(std::string_view text, std::size_t most) {
  std::vector<std::string> lines;
  while (!text.empty() && lines.size() < most) lines.emplace_back(line_content(take_line(text)));
  return lines;
}

std::string_view take_line(std::string_view& text) {
  const std::size_t end = std::min(text.find('\n'), text.size() - 1) + 1;
  const std::string_view line = text.substr(0, end);
  text.remove_prefix(end);
  return line;
}

}  // namespace lampload
