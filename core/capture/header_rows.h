#pragma once
// The rows of names and units that stand above a table.

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "core/capture/layout.h"

namespace lampload {

using HeaderCells = std::vector<std::string>;

/// A line without the mark that makes it a comment.
std::string_view without_comment_mark(std::string_view line);

/// The cells of a line above the table. A header is never joined; in blank-separated ones "Time (s)" is one name.
HeaderCells header_cells(std::string_view line, Dialect dialect);

/// One cell for each column of numbers, none empty.
bool covers_numbers(const HeaderCells& cells, const Layout& layout);

std::optional<Unit> unit_of_cell(std::string_view cell);

/// What the first column looks like: it rises from row to row while the last one does not, in steps of one from 0 or 1.
enum class FirstColumn { values, time, counts };
FirstColumn first_column(const std::vector<std::string>& head, std::size_t first, const Layout& layout);

/// What names the columns: the nearest row of names, one above it that may say more, and a row of units; each empty
/// where there is none.
struct HeaderRows {
  HeaderCells names;
  HeaderCells other_names;
  HeaderCells units;
  std::vector<bool> used;  ///< of the lines above the table
};

/// Lines from the table upwards. Next to it any text over each column is its name; behind a line that is none (an empty
/// row of a spreadsheet, a rule, "[Data]") only names or units that say what the columns hold are taken, also where the
/// line has another separator than the rows, or leaves the first column without a name.
/// is_key: of the first cell, that it begins a line of the preamble.
HeaderRows find_header_rows(const std::vector<std::string>& head, std::size_t first, const Layout& layout,
                            bool (*is_key)(const std::string& key));

}  // namespace lampload
