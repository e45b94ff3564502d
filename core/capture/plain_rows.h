#pragma once
// The usual rows of a text table, whose chosen cells are plain numbers, read fast; all others are put aside.

#include <array>
#include <cstddef>
#include <functional>
#include <limits>
#include <span>
#include <string_view>
#include <vector>

#include "core/capture/text_blocks.h"

namespace lampload {

inline constexpr double largest_plain = 1e30;  ///< beyond: what instruments write for no value

/// A cell that is wanted of each row.
struct WantedCell {
  std::size_t column;  ///< 0-based
  std::size_t place;   ///< 0 time, 1 voltage, 2 current
};

struct PlainRows {
  TextBlock block;
  std::array<std::vector<double>, 3> values;  ///< one list a place; of places that are not wanted empty
  std::size_t rows = 0;
  /// A line that is no plain row: blank, comment, units in its cells, damaged.
  struct OtherLine {
    std::size_t rows_before;
    std::string_view text;  ///< into the block, without its end
  };
  std::vector<OtherLine> others;
};

/// How cells are told apart in plain rows. separator 0: there are no plain rows.
struct PlainForm {
  char separator = ',';
  char decimal = '.';
  std::size_t fewest_separators = 0;  ///< of a row
  std::size_t most_separators = std::numeric_limits<std::size_t>::max();
};

/// Fills rows.values and rows.others from rows.block, from the character `from` on. `wanted` from left to right.
void read_plain_rows(PlainRows& rows, std::size_t from, std::span<const WantedCell> wanted, PlainForm form);

/// All blocks of a text from `first` on (its rows from the character `from` on), read side by side and taken in order.
void for_each_plain_rows(TextBlocks& blocks, PlainRows first, std::size_t from, std::span<const WantedCell> wanted,
                         PlainForm form, const std::function<void(const PlainRows&)>& take);

}  // namespace lampload
