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

/// Characters that are not seen (Default_Ignorable_Code_Point of the Unicode Character Database): two texts may look
/// alike and differ by them.
[[nodiscard]] constexpr bool is_unseen(char32_t point) {
  return point == 0xAD || point == 0x34F || point == 0x61C || point == 0x115F || point == 0x1160 || point == 0x17B4 ||
         point == 0x17B5 || (point >= 0x180B && point <= 0x180F) || (point >= 0x200B && point <= 0x200F) ||
         (point >= 0x202A && point <= 0x202E) || (point >= 0x2060 && point <= 0x206F) || point == 0x3164 ||
         (point >= 0xFE00 && point <= 0xFE0F) || point == 0xFEFF || point == 0xFFA0 ||
         (point >= 0xFFF0 && point <= 0xFFF8) || (point >= 0x1BCA0 && point <= 0x1BCA3) ||
         (point >= 0x1D173 && point <= 0x1D17A) || (point >= 0xE0000 && point <= 0xE0FFF);
}

/// Blanks of any width (White_Space of the Unicode Character Database, without control characters).
[[nodiscard]] constexpr bool is_space(char32_t point) {
  return point == 0x20 || point == 0xA0 || point == 0x1680 || (point >= 0x2000 && point <= 0x200A) || point == 0x2028 ||
         point == 0x2029 || point == 0x202F || point == 0x205F || point == 0x3000;
}

/// Marks that change the direction of writing (Unicode Standard Annex 9) or break lines, and the byte-order mark.
[[nodiscard]] constexpr bool changes_direction(char32_t point) {
  return (point >= 0x202A && point <= 0x202E) || (point >= 0x2066 && point <= 0x2069) || point == 0x61C ||
         point == 0x200E || point == 0x200F || point == 0x2028 || point == 0x2029 || point == 0xFEFF;
}

}  // namespace lampload
