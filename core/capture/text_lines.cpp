#include "core/capture/text_lines.h"

// The library bounds its copy of the file name on purpose.
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC diagnostic ignored "-Wstringop-truncation"
#endif
#define CSV_IO_NO_THREAD
#include <libfccp/csv.h>

#include <algorithm>
#include <cstring>
#include <string>
#include <utility>

#include "core/capture/packed_bytes.h"
#include "core/capture/quantity.h"
#include "core/capture/text_encoding.h"
#include "core/error.h"

namespace lampload {
namespace {

[[noreturn]] void refuse(const std::string& path, std::string message, std::string remedy) {
  throw Error(ErrorCode::input_refused, std::move(message), Place{.file = path}, std::move(remedy));
}

std::string_view required_encoding(const std::string& path, std::string_view probe) {
  const auto encoding = text_encoding(probe);
  if (!encoding) refuse(path, "holds binary data, not text", "Save or export it as plain text (CSV, UTF-8).");
  if (encoding->starts_with("UTF-8") && probe.find('\n') == std::string_view::npos &&
      probe.find('\r') != std::string_view::npos) {
    refuse(path, "has line ends of a single carriage return", "Save it with usual line ends (LF or CR LF).");
  }
  return *encoding;
}

/// The text of a file as the line reader wants it; keeps in mind how it ended.
class Bytes final : public io::ByteSourceBase {
 public:
  explicit Bytes(const std::string& path) : packed_(path), probe_(1U << 16U, '\0') {
    probe_.resize(packed_.read(probe_.data(), probe_.size()));
    if (probe_.empty()) refuse(path, "is empty", "Export the capture again.");
    encoding_ = required_encoding(path, probe_);
    text_ = std::make_unique<ToUtf8>(encoding_, [this](char* to, std::size_t size) {
      const std::size_t again = std::min(size, probe_.size() - given_);
      std::memcpy(to, probe_.data() + given_, again);
      given_ += again;
      return again < size ? again + packed_.read(to + again, size - again) : again;
    });
  }

  int read(char* buffer, int size) override {
    const std::size_t got = text_->read(buffer, static_cast<std::size_t>(size));
    if (got > 0) *last_ = buffer[got - 1];
    return static_cast<int>(got);
  }

  [[nodiscard]] const PackedBytes& packed() const { return packed_; }
  [[nodiscard]] std::string_view encoding() const { return encoding_; }
  /// The last character given; the line reader lets go of the source as soon as it has all of it.
  [[nodiscard]] std::shared_ptr<const char> last() const { return last_; }

 private:
  PackedBytes packed_;
  std::string probe_;
  std::size_t given_ = 0;
  std::string_view encoding_;
  std::unique_ptr<ToUtf8> text_;
  std::shared_ptr<char> last_ = std::make_shared<char>('\0');
};

}  // namespace

struct TextLines::Reader {
  Reader(const std::string& path, std::unique_ptr<Bytes> source)
      : last(source->last()), lines(path, std::move(source)) {}
  std::shared_ptr<const char> last;
  io::LineReader lines;
};

TextLines::TextLines(const std::string& path) : path_(path) {
  auto bytes = std::make_unique<Bytes>(path);
  const std::string_view encoding = bytes->encoding();
  if (encoding == "WINDOWS-1252") encoding_ = "Latin-1";
  if (encoding.starts_with("UTF-16")) encoding_ = "UTF-16";
  const PackedBytes& packed = bytes->packed();
  bytes_ = packed.file_bytes();
  if (packed.packing() == PackedBytes::Packing::gzip) packing_ = "gzip";
  if (packed.packing() == PackedBytes::Packing::zstd) packing_ = "zstd";
  reader_ = std::make_unique<Reader>(path, std::move(bytes));
}

bool TextLines::ends_with_newline() const { return *reader_->last == '\n'; }

TextLines::~TextLines() = default;
TextLines::TextLines(TextLines&&) noexcept = default;
TextLines& TextLines::operator=(TextLines&&) noexcept = default;

std::optional<std::string_view> TextLines::next() {
  try {
    const char* text = reader_->lines.next_line();
    if (text == nullptr) return std::nullopt;
    ++line_;
    return trimmed(text);
  } catch (const io::error::line_length_limit_exceeded&) {
    throw Error(ErrorCode::input_refused, "the line is longer than 16 million characters",
                Place{.file = path_, .line = line_ + 1}, "Export the capture as rows, one a sample.");
  }
}

}  // namespace lampload
