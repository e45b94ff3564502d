#include "core/capture/text_lines.h"

// The library bounds its copy of the file name on purpose.
#if defined(__GNUC__) && !defined(__clang__)
#pragma GCC diagnostic ignored "-Wstringop-truncation"
#endif
#define CSV_IO_NO_THREAD
#include <libfccp/csv.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <string>
#include <utility>

#include "core/capture/quantity.h"
#include "core/error.h"

namespace lampload {
namespace {

[[noreturn]] void refuse(const std::string& path, std::string message, std::string remedy) {
  throw Error(ErrorCode::input_refused, std::move(message), Place{.file = path}, std::move(remedy));
}

void require_regular_file(const std::string& path) {
  std::error_code failure;
  const auto status = std::filesystem::status(path, failure);
  if (!std::filesystem::exists(status)) refuse(path, "there is no such file", "Check the name and the folder.");
  if (std::filesystem::is_directory(status))
    refuse(path, "is a folder, not a file", "Name the capture file inside it.");
  if (!std::filesystem::is_regular_file(status)) {
    refuse(path, "is a device or a pipe, not a regular file", "Save the capture to a file first.");
  }
}

// A multi-byte character may be cut off by the end of the probe; only the bytes before count.
bool is_utf8(std::string_view text) {
  for (std::size_t at = 0; at < text.size();) {
    const auto lead = static_cast<unsigned char>(text[at]);
    const std::size_t length = lead < 0x80         ? 1
                               : lead >> 5 == 0x6  ? 2
                               : lead >> 4 == 0xE  ? 3
                               : lead >> 3 == 0x1E ? 4
                                                   : 0;
    if (length == 0) return false;
    for (std::size_t more = 1; more < length && at + more < text.size(); ++more) {
      if (static_cast<unsigned char>(text[at + more]) >> 6 != 0x2) return false;
    }
    at += length;
  }
  return true;
}

void require_text(const std::string& path, std::string_view probe) {
  const std::string save_again = "Save or export it as plain text (CSV, UTF-8).";
  if (probe.starts_with("\xFF\xFE") || probe.starts_with("\xFE\xFF")) refuse(path, "is UTF-16 text", save_again);
  if (probe.find('\0') != std::string_view::npos) {
    const auto zeros = std::count(probe.begin(), probe.end(), '\0');
    const bool wide = static_cast<std::size_t>(zeros) * 5 > probe.size() * 2 &&
                      probe.find_first_of("0123456789") != std::string_view::npos;
    refuse(path, wide ? "looks like UTF-16 text" : "holds binary data, not text", save_again);
  }
  const bool control = std::any_of(probe.begin(), probe.end(), [](char c) {
    return static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\r' && c != '\t' && c != '\f' && c != '\x1A';
  });
  if (control) refuse(path, "holds binary data, not text", save_again);
  if (!is_utf8(probe)) refuse(path, "is not valid UTF-8 text", save_again);
  if (probe.find('\n') == std::string_view::npos && probe.find('\r') != std::string_view::npos) {
    refuse(path, "has line ends of a single carriage return", "Save it with usual line ends (LF or CR LF).");
  }
}

}  // namespace

struct TextLines::Reader {
  explicit Reader(const std::string& path) : lines(path) {}
  io::LineReader lines;
};

TextLines::TextLines(const std::string& path) : path_(path) {
  require_regular_file(path);
  std::ifstream file(path, std::ios::binary);
  if (!file) refuse(path, "cannot be opened for reading", "Check the permissions.");
  bytes_ = std::filesystem::file_size(path);
  if (bytes_ == 0) refuse(path, "is empty", "Export the capture again.");

  std::string probe(static_cast<std::size_t>(std::min<std::uintmax_t>(bytes_, 1 << 16)), '\0');
  file.read(probe.data(), static_cast<std::streamsize>(probe.size()));
  if (file.gcount() != static_cast<std::streamsize>(probe.size())) refuse(path, "cannot be read", "Check the disk.");
  require_text(path, probe);
  file.seekg(-1, std::ios::end);
  ends_with_newline_ = file.get() == '\n';
  reader_ = std::make_unique<Reader>(path);
}

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
