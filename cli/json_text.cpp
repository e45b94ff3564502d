#include "cli/json_text.h"

#include <fmt/format.h>

#include <array>

namespace lampload {
namespace {

/// Code points of two and three bytes of UTF-8 that steer a terminal or the direction of writing.
constexpr std::array<char16_t, 14> steering = {0x200E, 0x200F, 0x2028, 0x2029, 0x202A, 0x202B, 0x202C,
                                               0x202D, 0x202E, 0x2066, 0x2067, 0x2068, 0x2069, 0xFEFF};

unsigned byte_at(std::string_view text, std::size_t i) {
  return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U;
}

}  // namespace

std::string json_text(std::string_view json) {
  std::string out;
  out.reserve(json.size());
  for (std::size_t i = 0; i < json.size(); ++i) {
    const unsigned lead = byte_at(json, i);
    const unsigned second = byte_at(json, i + 1);
    if (lead == 0x7F) {
      out += "\\u007f";
    } else if (lead == 0xC2 && second >= 0x80 && second < 0xA0) {
      out += fmt::format("\\u{:04x}", second);
      ++i;
    } else if (lead == 0xE2 || lead == 0xEF) {
      const unsigned point = ((lead & 0x0FU) << 12U) | ((second & 0x3FU) << 6U) | (byte_at(json, i + 2) & 0x3FU);
      bool steers = false;
      for (const char16_t one : steering) steers = steers || one == point;
      if (steers) {
        out += fmt::format("\\u{:04x}", point);
        i += 2;
      } else {
        out += json[i];
      }
    } else {
      out += json[i];
    }
  }
  return out;
}

}  // namespace lampload
