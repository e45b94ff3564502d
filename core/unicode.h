#pragma once
// Characters of UTF-8 text, and those of them that are not seen but do something.

#include <cstddef>
#include <string_view>
#include <utility>

namespace lampload {

/// Length of the well-formed UTF-8 sequence at the start of a text that is not empty, and its code point; 0 where there
/// is none.
std::pair<std::size_t, char32_t> first_character(std::string_view text);

/// Below U+0020, U+007F to U+009F: what steers a terminal.
[[nodiscard]] constexpr bool is_control(char32_t point) { return point < 0x20 || (point >= 0x7F && point < 0xA0); }

/// Marks that change the direction of writing (Unicode Standard Annex 9) or break lines, and the byte-order mark.
[[nodiscard]] constexpr bool changes_direction(char32_t point) {
  return (point >= 0x202A && point <= 0x202E) || (point >= 0x2066 && point <= 0x2069) || point == 0x200E ||
         point == 0x200F || point == 0x2028 || point == 0x2029 || point == 0xFEFF;
}

}  // namespace lampload
