#pragma once
// How a text capture is laid out, as a person or a layout file says it.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace lampload {

/// Cells that belong together although the separator stands inside them.
enum class CellJoin {
  none,
  pairs,  ///< comma-separated numbers with a decimal comma: two cells a number
  clock,  ///< the first cell is a clock time, its decimal fraction follows a comma
};

/// What is empty is detected.
struct WrittenLayout {
  std::optional<char> separator;  ///< ' ' stands for any run of blanks
  std::optional<char> decimal;
  std::optional<CellJoin> join;
  std::optional<std::size_t> first_row;  ///< 1-based line where the numbers begin
  std::vector<std::string> names;        ///< of the columns, from the left; empty: as the file says
  std::optional<std::string> time_column;
  std::optional<std::string> voltage_column;  ///< name or 1-based number
  std::optional<std::string> current_column;
  std::optional<std::string> time_unit;
  std::optional<std::string> voltage_unit;
  std::optional<std::string> current_unit;
  std::optional<double> sample_interval_s;
  std::optional<double> start_time_s;
};

}  // namespace lampload
