#pragma once
// How many cells the rows of a table have, so that a row with another number of them is seen.

#include <cstddef>
#include <limits>
#include <string>
#include <string_view>
#include <vector>

#include "core/capture/layout.h"

namespace lampload {

/// Least and most of what is usual; rows of some tables differ, as where a slow column leaves out its separator.
struct RowShape {
  std::size_t fewest_cells = 0;  ///< up to the last one that is not empty
  std::size_t most_cells = std::numeric_limits<std::size_t>::max();
  std::size_t fewest_separators = 0;  ///< also those within quotes and behind the last cell
  std::size_t most_separators = std::numeric_limits<std::size_t>::max();
};

/// By the rows of a file's beginning; numbers of cells that are rare there do not count.
RowShape usual_shape(const std::vector<std::string>& head, const Layout& layout);

/// Cells up to the last one that is not empty.
std::size_t filled_cells(const std::vector<std::string_view>& cells);

}  // namespace lampload
