#pragma once
// Rows whose decimal commas separate cells too: "0,01,24,0,1,5" holds three numbers.

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>
#include <vector>

namespace lampload {

/// What is known of the numbers of such a table.
struct DecimalPairs {
  std::size_t values = 0;                ///< in a row; 0: not known
  std::array<std::uint8_t, 8> digits{};  ///< behind the comma, of the first columns; 0: they differ
};

/// Puts a row's cells together to its numbers. Some may be printed without decimals ("24" for "24,0"): then only where
/// one way to do it gives as many values. False: there is none or more than one; cells stay as they are.
bool join_decimal_pairs(std::vector<std::string_view>& cells, const DecimalPairs& pairs);

}  // namespace lampload
