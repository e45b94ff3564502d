#include "core/capture/text_blocks.h"

#include <algorithm>
#include <cstring>
#include <utility>

#include "core/capture/packed_bytes.h"
#include "core/capture/text_encoding.h"
#include "core/error.h"

namespace lampload {
namespace {

[[noreturn]] void refuse_text(const std::string& path, std::string message, std::string remedy) {
  throw Error(ErrorCode::input_refused, std::move(message), Place{.file = path}, std::move(remedy));
}

std::string_view required_encoding(const std::string& path, std::string_view probe) {
  const auto encoding = text_encoding(probe);
  if (!encoding) refuse_text(path, "holds binary data, not text", "Save or export it as plain text (CSV, UTF-8).");
  if (encoding->starts_with("UTF-8") && probe.find('\n') == std::string_view::npos &&
      probe.find('\r') != std::string_view::npos) {
    refuse_text(path, "has line ends of a single carriage return", "Save it with usual line ends (LF or CR LF).");
  }
  return *encoding;
}

}  // namespace

/// The text of a file; its first bytes are looked at before they are given.
struct TextBlocks::Source {
  explicit Source(const std::string& name) : path(name), packed(name), probe(1U << 16U, '\0') {
    probe.resize(packed.read(probe.data(), probe.size()));
    if (probe.empty()) refuse_text(path, "is empty", "Export the capture again.");
    encoding = required_encoding(path, probe);
    text = std::make_unique<ToUtf8>(encoding, [this](char* to, std::size_t size) {
      const std::size_t again = std::min(size, probe.size() - given);
      std::memcpy(to, probe.data() + given, again);
      given += again;
      return again < size ? again + packed.read(to + again, size - again) : again;
    });
  }

  std::string path;
  PackedBytes packed;
  std::string probe;
  std::size_t given = 0;
  std::string_view encoding;
  std::unique_ptr<ToUtf8> text;
};

void TextBlock::make_room(std::size_t size) {
  if (size <= room_) return;
  auto larger = std::make_unique_for_overwrite<char[]>(size);
  std::copy_n(bytes_.get(), size_, larger.get());
  bytes_ = std::move(larger);
  room_ = size;
}

TextBlocks::TextBlocks(const std::string& path) : source_(std::make_unique<Source>(path)) {}
TextBlocks::~TextBlocks() = default;
TextBlocks::TextBlocks(TextBlocks&&) noexcept = default;
TextBlocks& TextBlocks::operator=(TextBlocks&&) noexcept = default;

bool TextBlocks::next(TextBlock& block) {
  block.first_line_ = line_;
  block.make_room(carried_.size() + usual_bytes);
  std::copy(carried_.begin(), carried_.end(), block.bytes_.get());
  block.size_ = std::exchange(carried_, {}).size();
  std::size_t whole = 0;  // up to the end of the last whole line
  while (!ended_ && whole == 0) {
    if (block.size_ > longest_line) {
      throw Error(ErrorCode::input_refused, "the line is longer than 16 million characters",
                  Place{.file = source_->path, .line = line_}, "Export the capture as rows, one a sample.");
    }
    block.make_room(block.size_ + usual_bytes);
    char* const to = block.bytes_.get() + block.size_;
    std::size_t got = source_->text->read(to, usual_bytes);
    ended_ = got < usual_bytes;
    if (line_ == 1 && block.size_ == 0 && std::string_view(to, got).starts_with("\xEF\xBB\xBF")) {
      std::memmove(to, to + 3, got -= 3);  // the byte-order mark is no part of the text
    }
    block.size_ += got;
    const auto end = block.text().rfind('\n');
    if (end != std::string_view::npos) whole = end + 1;
  }
  if (!ended_) {
    carried_ = block.text().substr(whole);
    block.size_ = whole;
  }
  if (block.size_ == 0) return false;
  const std::string_view text = block.text();
  ends_with_newline_ = text.back() == '\n';
  line_ += static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
  return true;
}

std::uintmax_t TextBlocks::file_bytes() const { return source_->packed.file_bytes(); }
bool TextBlocks::ends_with_newline() const { return ends_with_newline_; }

std::string_view TextBlocks::packing() const {
  switch (source_->packed.packing()) {
    case PackedBytes::Packing::gzip:
      return "gzip";
    case PackedBytes::Packing::zstd:
      return "zstd";
    case PackedBytes::Packing::none:
      break;
  }
  return "";
}

std::string_view TextBlocks::encoding() const {
  if (source_->encoding == "WINDOWS-1252") return "Latin-1";
  return source_->encoding.starts_with("UTF-16") ? "UTF-16" : "";
}

std::string_view line_content(std::string_view line) {
  const auto blank = [](char c) { return c == ' ' || (c >= '\t' && c <= '\r') || c == '\x1A'; };
  while (!line.empty() && blank(line.back())) line.remove_suffix(1);
  while (!line.empty() && line.front() == ' ') line.remove_prefix(1);
  return line;
}

}  // namespace lampload
