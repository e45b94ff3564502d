#include "core/capture/layout.h"

#include <algorithm>
#include <array>
#include <utility>

#include "core/capture/column_names.h"
#include "core/capture/preamble.h"
#include "core/error.h"

namespace lampload {
namespace {

bool is_number(std::string_view cell, char decimal) {
  const CellKind kind = parse_measured(cell, decimal).kind;
  return kind == CellKind::number || kind == CellKind::overload || parse_clock(cell).has_value();
}

bool is_empty(std::string_view cell) { return parse_cell(cell, '.').kind == CellKind::empty; }

bool all_digits(std::string_view cell) {
  return cell.size() >= 3 && cell.find_first_not_of("0123456789") == std::string_view::npos;
}

using Rows = std::vector<std::vector<std::string_view>>;

Rows split_all(const std::vector<std::string>& head, const Dialect& dialect) {
  Rows rows(head.size());
  for (std::size_t k = 0; k < head.size(); ++k) {
    if (!is_comment(head[k], dialect)) split_row(head[k], dialect, rows[k]);
  }
  return rows;
}

// Columns that hold numbers, judged by the later half of the rows: preambles stand above.
struct Columns {
  std::vector<bool> numeric;
  std::vector<bool> words;
  int score = 0;  // three for each number found, less four for each cell of other text
};

Columns judge(const Rows& rows, char decimal, std::optional<std::size_t> first_row = {}) {
  std::vector<int> numbers;
  std::vector<int> texts;
  std::vector<int> rows_of_size;
  Columns columns;
  for (std::size_t k = first_row.value_or(rows.size() / 2); k < rows.size(); ++k) {
    rows_of_size.resize(std::max(rows_of_size.size(), rows[k].size() + 1));
    if (!rows[k].empty()) ++rows_of_size[rows[k].size()];
    numbers.resize(std::max(numbers.size(), rows[k].size()));
    texts.resize(numbers.size());
    for (std::size_t c = 0; c < rows[k].size(); ++c) {
      if (is_empty(rows[k][c])) continue;
      const bool number = is_number(rows[k][c], decimal);
      ++(number ? numbers : texts)[c];
      columns.score += number ? 3 : -4;
    }
  }
  const auto most = std::max_element(rows_of_size.begin(), rows_of_size.end());
  const auto usual = static_cast<std::size_t>(most - rows_of_size.begin());
  for (std::size_t c = 0; c < numbers.size(); ++c) {
    // Cells behind the usual ones, in few rows: those rows are damaged, it is no column.
    const bool rare = c >= usual && numbers[c] * 50 < *most;
    columns.numeric.push_back(numbers[c] > texts[c] && !rare);
    columns.words.push_back(texts[c] > numbers[c]);
  }
  return columns;
}

// A row of the table: numbers in numeric columns only, at least one figure (a rule of dashes looks as if all were
// beyond the range); text beside the table is allowed (preambles that stand in the same rows) unless it is the key of
// the very values that fill the columns.
bool is_data_row(const std::vector<std::string_view>& row, const Columns& columns, char decimal) {
  bool any = false;
  for (std::size_t c = 0; c < row.size() && c < columns.numeric.size(); ++c) {
    if (is_empty(row[c])) continue;
    const bool number = is_number(row[c], decimal);
    if (columns.numeric[c]) {
      if (!number) return false;
      any = any || row[c].find_first_of("0123456789") != std::string_view::npos;
    } else if (!number && !columns.words[c] && c + 1 < row.size() && c + 1 < columns.numeric.size() &&
               columns.numeric[c + 1]) {
      return false;
    }
  }
  return any;
}

bool is_full_data_row(const std::vector<std::string_view>& row, const Columns& columns, char decimal) {
  if (!is_data_row(row, columns, decimal)) return false;
  for (std::size_t c = 0; c < columns.numeric.size(); ++c) {
    if (columns.numeric[c] && (c >= row.size() || is_empty(row[c]))) return false;
  }
  return true;
}

// first_row: 0-based, where it is known.
Dialect find_dialect(const std::vector<std::string>& head, const WrittenLayout& written,
                     std::optional<std::size_t> first_row, Columns& best) {
  constexpr std::array<Dialect, 10> kCandidates{{{',', '.'},
                                                 {';', '.'},
                                                 {';', ','},
                                                 {'\t', '.'},
                                                 {'\t', ','},
                                                 {'|', '.'},
                                                 {'|', ','},
                                                 {' ', '.'},
                                                 {' ', ','},
                                                 {',', ','}}};
  Dialect chosen;
  best.score = 0;
  for (const Dialect& candidate : kCandidates) {
    if (written.separator.value_or(candidate.separator) != candidate.separator) continue;
    if (written.decimal.value_or(candidate.decimal) != candidate.decimal && candidate.separator != ',') continue;
    Columns columns = judge(split_all(head, candidate), candidate.decimal, first_row);
    if (columns.score > best.score) {
      best = std::move(columns);
      chosen = candidate;
    }
  }
  return chosen;
}

// "00:00:01,000065,230.1": every first cell a clock without fraction, every second one digits of one length.
bool fraction_follows_clock(const Rows& rows) {
  std::size_t seen = 0;
  std::size_t length = 0;
  for (std::size_t k = rows.size() / 2; k < rows.size(); ++k) {
    if (rows[k].empty()) continue;
    if (rows[k].size() < 3 || !parse_clock(rows[k][0]) || !all_digits(rows[k][1])) return false;
    if (rows[k][0].find_first_of(".,") != std::string_view::npos) return false;
    if (seen++ > 0 && rows[k][1].size() != length) return false;
    length = rows[k][1].size();
  }
  return seen > 0;
}

// Twice as many cells as names: "t,u,i" above "0,001,2,5,0,1"; in some rows fewer, of numbers without decimals.
std::optional<DecimalPairs> numbers_in_pairs(const Rows& rows, std::size_t first_row) {
  std::size_t names = 0;
  for (std::size_t k = first_row; k-- > 0 && names == 0;) {
    if (rows[k].size() >= 2 &&
        std::none_of(rows[k].begin(), rows[k].end(), [](auto cell) { return is_number(cell, '.'); })) {
      names = rows[k].size();
    }
  }
  if (names < 2) return std::nullopt;
  DecimalPairs pairs{names, {}};
  std::size_t whole_rows = 0;
  std::size_t other_rows = 0;
  for (std::size_t k = first_row; k < rows.size(); ++k) {
    if (rows[k].empty()) continue;
    if (rows[k].size() <= names || rows[k].size() > 2 * names) return std::nullopt;
    if (rows[k].size() < 2 * names) {
      ++other_rows;
      continue;
    }
    for (std::size_t c = 0; c < std::min(names, pairs.digits.size()); ++c) {
      const auto digits = static_cast<std::uint8_t>(std::min<std::size_t>(255, rows[k][2 * c + 1].size()));
      if (whole_rows == 0) pairs.digits[c] = digits;
      if (pairs.digits[c] != digits) pairs.digits[c] = 0;
    }
    ++whole_rows;
  }
  return whole_rows > other_rows ? std::optional(pairs) : std::nullopt;
}

// What the cells of a column say of their unit, where most of them say it.
std::optional<Quantity> quantity_in_cells(const Rows& rows, std::size_t first, std::size_t column, char decimal) {
  std::size_t cells = 0;
  std::size_t with_unit = 0;
  Quantity said = Quantity::unknown;
  for (std::size_t k = first; k < rows.size(); ++k) {
    if (column >= rows[k].size() || is_empty(rows[k][column])) continue;
    ++cells;
    const MeasuredCell cell = parse_measured(rows[k][column], decimal);
    if (!cell.has_unit) continue;
    if (with_unit++ > 0 && cell.quantity != said) return Quantity::other;
    said = cell.quantity;
  }
  if (with_unit == 0 || with_unit * 2 < cells) return std::nullopt;
  return said;
}

std::size_t find_first_row(const Rows& rows, const Columns& columns, char decimal) {
  constexpr std::size_t kInARow = 3;
  std::size_t run = 0;
  std::size_t first = 0;
  for (std::size_t k = 0; k < rows.size(); ++k) {
    if (rows[k].empty()) continue;
    if (!is_data_row(rows[k], columns, decimal)) {
      run = 0;
      continue;
    }
    if (run++ == 0) first = k;
    if (run == kInARow) return first;
  }
  return rows.size();
}

// Names of a written layout, in place of the file's.
void name_columns(const WrittenLayout& written, Layout& layout) {
  for (std::size_t c = 0; c < std::min(written.names.size(), layout.columns.size()); ++c) {
    layout.columns[c].name = written.names[c];
    layout.columns[c].meaning = column_meaning(written.names[c], std::nullopt);
    layout.columns[c].unit_is_said = unit_in_name(written.names[c]).has_value();
    layout.columns[c].unread_unit = unread_unit(written.names[c]);
    layout.has_header = true;
  }
  if (written.sample_interval_s) layout.sample_interval_s = written.sample_interval_s;
  if (written.start_time_s) layout.start_time_s = written.start_time_s;
}

}  // namespace

void split_row(std::string_view line, const Dialect& dialect, std::vector<std::string_view>& cells) {
  cells.clear();
  if (line.empty()) return;
  const bool blanks = dialect.separator == ' ';
  const auto is_separator = [&](char c) { return blanks ? c == ' ' || c == '\t' : c == dialect.separator; };
  std::size_t from = 0;
  bool quoted = false;
  for (std::size_t at = 0; at < line.size(); ++at) {
    const char c = line[at];
    if (c == '"') quoted = !quoted;
    if (quoted || !is_separator(c)) continue;
    if (!blanks || at > from) cells.push_back(line.substr(from, at - from));
    from = at + 1;
  }
  if (from < line.size()) cells.push_back(line.substr(from));

  if (dialect.join == Dialect::Join::none || cells.size() < 2) return;
  if (dialect.join == Dialect::Join::clock) {
    if (!parse_clock(cells[0])) return;
    cells[0] = std::string_view(cells[0].data(),
                                static_cast<std::size_t>(cells[1].data() - cells[0].data()) + cells[1].size());
    cells.erase(cells.begin() + 1);
  } else if (!join_decimal_pairs(cells, dialect.pairs)) {
    cells.clear();
  }
}

bool is_comment(std::string_view line, const Dialect& dialect) {
  if (line.empty()) return true;
  if (line.front() == ';') return dialect.separator != ';';
  return line.front() == '#' || line.front() == '%' || line.starts_with("//");
}

Layout detect_layout(const std::string& file, const std::vector<std::string>& head, const WrittenLayout& written) {
  Layout layout;
  Columns columns;
  std::optional<std::size_t> first_row;
  if (written.first_row) {
    if (*written.first_row > head.size()) {
      throw Error(ErrorCode::input_refused,
                  "the layout says that numbers begin in line " + std::to_string(*written.first_row) +
                      ", which is not among the first " + std::to_string(head.size()) + " lines",
                  Place{.file = file}, "Correct first_row in the layout, or remove what stands above the table.");
    }
    first_row = *written.first_row - 1;
  }
  layout.dialect = find_dialect(head, written, first_row, columns);
  const auto refuse_without_rows = [&] {
    throw Error(ErrorCode::input_refused,
                "no rows of numbers were found; expected columns of time, voltage and current", Place{.file = file},
                "Export the waveform's samples as text, one row a sample.");
  };
  if (columns.score <= 0) refuse_without_rows();
  Rows rows = split_all(head, layout.dialect);
  const auto join = [&](Dialect::Join how, char decimal) {
    layout.dialect.join = how;
    layout.dialect.decimal = decimal;
    // Names have no pairs to join; they are split again where they are read.
    rows = split_all(head, layout.dialect);
    columns = judge(rows, decimal, first_row);
  };
  if (written.join) {
    if (*written.join != CellJoin::none) join(*written.join, *written.join == CellJoin::pairs ? ',' : '.');
  } else if (layout.dialect.separator == ',' && layout.dialect.decimal == '.') {
    if (fraction_follows_clock(rows)) {
      join(Dialect::Join::clock, '.');
    } else if (const std::size_t first = find_first_row(rows, columns, '.'); first < rows.size()) {
      if (const auto pairs = numbers_in_pairs(rows, first)) {
        layout.dialect.pairs = *pairs;
        join(Dialect::Join::pairs, ',');
      }
    }
  }
  const char decimal = layout.dialect.decimal;
  const std::size_t first = first_row.value_or(find_first_row(rows, columns, decimal));
  if (first == rows.size()) {
    if (head.size() < head_lines) refuse_without_rows();
    throw Error(ErrorCode::input_refused,
                "rows of numbers do not begin within the first " + std::to_string(head.size()) + " lines",
                Place{.file = file}, "Remove what stands above the table.");
  }
  // Rows of the table above the place where it seems to begin: a damaged row lies between.
  for (std::size_t k = 0; k < first && !first_row; ++k) {
    if (!is_full_data_row(rows[k], columns, decimal)) continue;
    std::size_t bad = k;
    while (bad < first && (rows[bad].empty() || is_data_row(rows[bad], columns, decimal))) ++bad;
    throw Error(ErrorCode::input_refused, "expected a row of numbers, found \"" + head[bad].substr(0, 60) + "\"",
                Place{.file = file, .line = bad + 1}, "Correct or remove the line.");
  }
  layout.first_row = first + 1;
  double bytes = 0.0;
  for (std::size_t k = first; k < head.size(); ++k) bytes += static_cast<double>(head[k].size() + 1);
  layout.row_bytes = bytes / static_cast<double>(head.size() - first);
  layout.columns.resize(columns.numeric.size());
  for (std::size_t c = 0; c < columns.numeric.size(); ++c) layout.columns[c].holds_numbers = columns.numeric[c];
  read_header(head, first, layout);
  name_columns(written, layout);
  for (std::size_t c = 0; c < layout.columns.size(); ++c) {
    Column& column = layout.columns[c];
    if (!column.holds_numbers) {
      column.meaning = column_meaning(column.name, std::nullopt);
      if (c < rows[first].size()) column.example = rows[first][c].substr(0, 40);
      continue;
    }
    const auto said = quantity_in_cells(rows, first, c, decimal);
    if (!said) continue;
    column.units_in_cells = true;
    if (*said == Quantity::unknown) continue;  // a prefix alone
    column.meaning = column_meaning(column.name, Unit{*said, 1.0});
    layout.has_header = true;
  }
  return layout;
}

std::string in_words(const Layout& layout) {
  const Dialect& dialect = layout.dialect;
  std::string words = "cells separated by ";
  switch (dialect.separator) {
    case ',':
      words += "commas";
      break;
    case ';':
      words += "semicolons";
      break;
    case '\t':
      words += "tabs";
      break;
    case '|':
      words += "bars";
      break;
    default:
      words += "blanks";
      break;
  }
  words += dialect.decimal == ',' ? ", decimal commas" : ", decimal points";
  if (dialect.join == Dialect::Join::clock) words += ", clock times with a comma before their fraction";
  if (std::any_of(layout.columns.begin(), layout.columns.end(), [](const Column& c) { return c.units_in_cells; })) {
    words += ", units beside the numbers";
  }
  if (!layout.has_header) words += ", no names above the columns";
  return words;
}

std::string column_label(const Layout& layout, std::size_t column) {
  if (column < layout.columns.size() && !layout.columns[column].name.empty()) return layout.columns[column].name;
  return std::to_string(column + 1);
}

}  // namespace lampload
