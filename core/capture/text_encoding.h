#pragma once
// Text in whatever encoding, as UTF-8.

#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

namespace lampload {

/// What the first bytes of a file say of its encoding, under the name that iconv (POSIX) knows it by: "UTF-8",
/// "UTF-16LE", "UTF-16BE", "WINDOWS-1252" (Latin-1 with the characters that Windows puts into its gap). Empty optional:
/// not text.
std::optional<std::string_view> text_encoding(std::string_view first_bytes);

/// Turns a stream of bytes of one encoding into UTF-8, without its byte-order mark.
class ToUtf8 {
 public:
  /// Fills a buffer with up to `size` bytes; fewer only at the end.
  using Read = std::function<std::size_t(char* to, std::size_t size)>;

  ToUtf8(std::string_view encoding, Read read);
  ~ToUtf8();
  ToUtf8(ToUtf8&&) noexcept;
  ToUtf8& operator=(ToUtf8&&) noexcept;

  /// Likewise. What is no character of the encoding becomes a question mark.
  std::size_t read(char* to, std::size_t size);

 private:
  struct Converter;
  std::unique_ptr<Converter> converter_;
};

}  // namespace lampload
