#include "core/unicode.h"

namespace lampload {

std::pair<std::size_t, char32_t> first_character(std::string_view text) {
  const auto lead = static_cast<unsigned char>(text[0]);
  if (lead < 0x80) return {1, lead};
  const std::size_t length = lead >= 0xF5 ? 0 : lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC2 ? 2 : 0;
  if (length == 0 || text.size() < length) return {0, 0};
  auto point = static_cast<char32_t>(lead & (0xFFU >> (length + 1)));
  for (std::size_t i = 1; i < length; ++i) {
    const auto byte = static_cast<unsigned char>(text[i]);
    if ((byte & 0xC0U) != 0x80U) return {0, 0};
    point = (point << 6U) | (byte & 0x3FU);
  }
  const char32_t smallest = length == 4 ? 0x10000 : length == 3 ? 0x800 : 0x80;
  const bool surrogate = point >= 0xD800 && point <= 0xDFFF;
  if (point < smallest || point > 0x10FFFF || surrogate) return {0, 0};
  return {length, point};
}

}  // namespace lampload
