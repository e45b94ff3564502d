#pragma once
// How a text capture is laid out: separator, decimal sign, where the rows of numbers begin, what each column holds.

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/capture/capture.h"
#include "core/capture/decimal_pairs.h"
#include "core/capture/quantity.h"

namespace lampload {

struct Dialect {
  using Join = CellJoin;
  char separator = ',';  ///< ' ' stands for any run of blanks
  char decimal = '.';
  Join join = Join::none;
  DecimalPairs pairs = {};  ///< where they are joined
};

/// Cells of one row; quotes protect separators and stay on the cell. None where it is not clear which cells are to be
/// joined.
void split_row(std::string_view line, const Dialect& dialect, std::vector<std::string_view>& cells);

struct Column {
  std::string name;  ///< empty: the file has none
  Unit meaning;
  bool holds_numbers = false;
  std::string example;          ///< of what is there instead of numbers
  bool units_in_cells = false;  ///< its cells say their unit: "325 V"
  bool unit_is_said = false;    ///< by its name, a row of units or the preamble
  std::string unread_unit;      ///< what stands where its unit would, and is none that is known
};

struct Layout {
  Dialect dialect;
  std::size_t first_row = 0;  ///< 1-based line where the numbers begin
  std::vector<Column> columns;
  bool has_header = false;                  ///< names or units were found
  std::optional<double> sample_interval_s;  ///< from a preamble
  std::optional<double> start_time_s;       ///< from a preamble
  bool timed_by_itself = false;             ///< the file's form says when; no column does unless it is named
  std::string voltage_column;               ///< which of several is meant, where a preamble says it; else empty
  std::string current_column;
  bool time_without_name = false;  ///< the first column is time by its values alone
  /// Lines above the table that say more of it than was understood, as they stand there.
  std::string unread_clock;               ///< of the sample interval or rate
  std::string scale_line;                 ///< of converter codes or a factor that was not applied
  std::vector<std::string> unused_lines;  ///< the others, from the table upwards
  double row_bytes = 0.0;                 ///< mean length of a row
};

inline constexpr std::size_t head_lines = 512;  ///< that a layout is told by

/// head: the first lines of the file (all of a short one). written: what is known of it beforehand. Throws
/// Error{input_refused} where no rows of numbers are found or they do not begin cleanly.
Layout detect_layout(const std::string& file, const std::vector<std::string>& head, const WrittenLayout& written = {});

/// True for a line that carries nothing: blank, or a comment.
bool is_comment(std::string_view line, const Dialect& dialect);

/// The columns to read, 0-based.
struct ChosenColumns {
  std::optional<std::size_t> time;
  std::optional<std::size_t> voltage;
  std::optional<std::size_t> current;
  std::optional<std::size_t> current_time;  ///< where the current has a time column of its own; else empty
};

enum class Channels { both, voltage_only, current_only };

/// By the person's options first, then by names and units, then (no header at all) by order.
/// Throws Error{input_refused} that lists the columns where the choice is not clear.
ChosenColumns choose_columns(const std::string& file, const Layout& layout, const CaptureOptions& options,
                             Channels channels);

/// Separator, decimal sign and what the columns hold, for a person.
std::string in_words(const Layout& layout);

/// What an error calls a column: its name, or its 1-based number.
std::string column_label(const Layout& layout, std::size_t column);

}  // namespace lampload
