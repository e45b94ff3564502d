#include "cli/picture.h"

#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <string_view>

namespace lampload {
namespace {

/// The character with these dots, bit 0 to 7 as Unicode numbers Braille dots 1 to 8.
std::string braille(unsigned dots) {
  const unsigned point = 0x2800U + dots;
  return {static_cast<char>(0xE0U | (point >> 12U)), static_cast<char>(0x80U | ((point >> 6U) & 0x3FU)),
          static_cast<char>(0x80U | (point & 0x3FU))};
}

}  // namespace

Dots dots_of_terminal(std::FILE* stream) {
  if (isatty(fileno(stream)) != 1) return Dots::coarse;
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
    const char* value = std::getenv(name);
    if (value == nullptr || *value == '\0') continue;
    const std::string_view said(value);
    const bool utf8 = said.find("UTF-8") != std::string_view::npos || said.find("utf8") != std::string_view::npos;
    return utf8 ? Dots::fine : Dots::coarse;
  }
  return Dots::coarse;
}

std::vector<std::string> drawn(std::span<const double> values, double low, double high, std::size_t columns,
                               std::size_t lines, Dots dots) {
  const std::size_t wide = dots == Dots::fine ? 2 : 1;
  const std::size_t tall = dots == Dots::fine ? 4 : 1;
  const std::size_t across = columns * wide;
  const std::size_t down = lines * tall;
  std::vector<std::vector<bool>> set(down, std::vector<bool>(across, false));
  const auto row_of = [&](double value) {
    const double place = (high - value) / (high - low) * static_cast<double>(down - 1);
    return static_cast<std::size_t>(std::lround(std::clamp(place, 0.0, static_cast<double>(down - 1))));
  };
  for (std::size_t c = 0; c < across && !values.empty(); ++c) {
    const std::size_t from = std::min(c * values.size() / across, values.size() - 1);
    // To the first sample of the next column, so that lines are not broken.
    const std::size_t to = std::min((c + 1) * values.size() / across + 1, values.size());
    const auto [least, largest] =
        std::minmax_element(values.begin() + static_cast<std::ptrdiff_t>(from),
                            values.begin() + static_cast<std::ptrdiff_t>(std::max(to, from + 1)));
    for (std::size_t r = row_of(*largest); r <= row_of(*least); ++r) set[r][c] = true;
  }
  std::vector<std::string> text;
  for (std::size_t line = 0; line < lines; ++line) {
    std::string row;
    for (std::size_t column = 0; column < columns; ++column) {
      if (dots == Dots::coarse) {
        row += set[line][column] ? '*' : ' ';
        continue;
      }
      static constexpr unsigned bit[4][2] = {{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}};
      unsigned pattern = 0;
      for (std::size_t r = 0; r < 4; ++r) {
        for (std::size_t c = 0; c < 2; ++c) {
          if (set[4 * line + r][2 * column + c]) pattern |= bit[r][c];
        }
      }
      row += pattern == 0 ? std::string(" ") : braille(pattern);
    }
    row.erase(row.find_last_not_of(' ') + 1);
    text.push_back(std::move(row));
  }
  return text;
}

}  // namespace lampload
