#include "core/capture/text_encoding.h"

#include <iconv.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <utility>
#include <vector>

namespace lampload {
namespace {

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

bool has_control_characters(std::string_view text) {
  return std::any_of(text.begin(), text.end(), [](char c) {
    return static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\r' && c != '\t' && c != '\f' && c != '\x1A';
  });
}

// Digits, separators and line ends, of which such a file consists, have a zero for one of their two bytes.
std::optional<std::string_view> wide_encoding(std::string_view bytes) {
  std::array<std::size_t, 2> zeros{};
  std::size_t printable = 0;
  for (std::size_t at = 0; at + 1 < bytes.size(); at += 2) {
    zeros[0] += bytes[at] == '\0' ? 1 : 0;
    zeros[1] += bytes[at + 1] == '\0' ? 1 : 0;
    const char other = bytes[at] == '\0' ? bytes[at + 1] : bytes[at];
    printable += (other >= ' ' && other <= '~') || other == '\n' || other == '\r' || other == '\t' ? 1 : 0;
  }
  const std::size_t pairs = bytes.size() / 2;
  if (printable * 10 < pairs * 9) return std::nullopt;
  if (zeros[1] * 10 > pairs * 9 && zeros[0] * 10 < pairs) return "UTF-16LE";
  if (zeros[0] * 10 > pairs * 9 && zeros[1] * 10 < pairs) return "UTF-16BE";
  return std::nullopt;
}

}  // namespace

std::optional<std::string_view> text_encoding(std::string_view first_bytes) {
  if (first_bytes.starts_with("\xFF\xFE")) return "UTF-16LE";
  if (first_bytes.starts_with("\xFE\xFF")) return "UTF-16BE";
  if (first_bytes.find('\0') != std::string_view::npos) return wide_encoding(first_bytes);
  if (has_control_characters(first_bytes)) return std::nullopt;
  return is_utf8(first_bytes) ? "UTF-8" : "WINDOWS-1252";
}

struct ToUtf8::Converter {
  Converter(std::string_view encoding, Read from)
      : read(std::move(from)),
        handle(encoding == "UTF-8" ? nullptr : iconv_open("UTF-8", std::string(encoding).c_str())),
        unit(encoding.starts_with("UTF-16") ? 2 : 1) {
    if (handle == nullptr) return;
    raw.resize(1U << 18U);
    text.resize(3 * raw.size());  // no unit becomes more than three bytes
  }
  ~Converter() {
    if (handle != nullptr) iconv_close(handle);
  }
  Converter(const Converter&) = delete;
  Converter& operator=(const Converter&) = delete;

  /// Converts the next stretch. False: nothing is left.
  bool refill() {
    const std::size_t wanted = raw.size() - held;
    const std::size_t got = ended ? 0 : read(raw.data() + held, wanted);
    held += got;
    ended = got < wanted;
    if (held == 0) return false;
    char* in = raw.data();
    std::size_t left = held;
    const std::string_view first(raw.data(), held);
    if (!begun && unit == 2 && (first.starts_with("\xFF\xFE") || first.starts_with("\xFE\xFF"))) {
      in += 2;  // the UTF-8 of the result needs no byte-order mark
      left -= 2;
    }
    begun = true;
    char* out = text.data();
    std::size_t room = text.size();
    while (left > 0 && iconv(handle, &in, &left, &out, &room) == static_cast<std::size_t>(-1)) {
      if (errno == EINVAL && !ended) break;  // cut in two by the end of the stretch
      const std::size_t skipped = std::min(left, unit);
      in += skipped;
      left -= skipped;
      *out++ = '?';
      --room;
    }
    std::memmove(raw.data(), in, left);
    held = left;
    begin = 0;
    end = text.size() - room;
    return true;
  }

  Read read;
  iconv_t handle;
  std::size_t unit;  ///< bytes
  std::vector<char> raw;
  std::vector<char> text;
  std::size_t held = 0;
  std::size_t begin = 0;  ///< of what is converted and not yet given
  std::size_t end = 0;
  bool ended = false;
  bool begun = false;
};

ToUtf8::ToUtf8(std::string_view encoding, Read read)
    : converter_(std::make_unique<Converter>(encoding, std::move(read))) {}
ToUtf8::~ToUtf8() = default;
ToUtf8::ToUtf8(ToUtf8&&) noexcept = default;
ToUtf8& ToUtf8::operator=(ToUtf8&&) noexcept = default;

std::size_t ToUtf8::read(char* to, std::size_t size) {
  Converter& c = *converter_;
  if (c.handle == nullptr) return c.read(to, size);
  std::size_t given = 0;
  while (given < size) {
    if (c.begin == c.end && !c.refill()) break;
    const std::size_t now = std::min(size - given, c.end - c.begin);
    std::memcpy(to + given, c.text.data() + c.begin, now);
    c.begin += now;
    given += now;
  }
  return given;
}

}  // namespace lampload
