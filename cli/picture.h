#pragma once
// Waveforms drawn in text.

#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace lampload {

/// What a cell of the terminal can show: eight dots each (Braille patterns of Unicode), or one character.
enum class Dots { fine, coarse };

/// fine where the terminal says that it shows UTF-8 (LC_ALL, LC_CTYPE, LANG).
Dots dots_of_terminal(std::FILE* stream);

/// Lines from the top of the range to its bottom. Every column of dots covers as many samples as the next one and spans
/// all their values: no peak is lost between columns. low < high.
std::vector<std::string> drawn(std::span<const double> values, double low, double high, std::size_t columns,
                               std::size_t lines, Dots dots);

}  // namespace lampload
