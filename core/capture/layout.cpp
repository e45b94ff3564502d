#include "core/capture/layout.h"

#include <algorithm>
#include <array>
#include <utility>

#include "core/capture/preamble.h"
#include "core/error.h"

namespace lampload {
namespace {

bool is_number(std::string_view cell, char decimal) {
  const CellKind kind = parse_cell(cell, decimal).kind;
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
  int score = 0;  // numbers found, less two for each cell of other text
};

Columns judge(const Rows& rows, char decimal) {
  std::vector<int> numbers;
  std::vector<int> texts;
  Columns columns;
  for (std::size_t k = rows.size() / 2; k < rows.size(); ++k) {
    numbers.resize(std::max(numbers.size(), rows[k].size()));
    texts.resize(numbers.size());
    for (std::size_t c = 0; c < rows[k].size(); ++c) {
      if (is_empty(rows[k][c])) continue;
      const bool number = is_number(rows[k][c], decimal);
      ++(number ? numbers : texts)[c];
      columns.score += number ? 1 : -2;
    }
  }
  for (std::size_t c = 0; c < numbers.size(); ++c) {
    columns.numeric.push_back(numbers[c] > texts[c]);
    columns.words.push_back(texts[c] > numbers[c]);
  }
  return columns;
}

// A row of the table: numbers in numeric columns only, at least one; text beside the table is allowed (preambles that
// stand in the same rows) unless it is the key of the very values that fill the columns.
bool is_data_row(const std::vector<std::string_view>& row, const Columns& columns, char decimal) {
  bool any = false;
  for (std::size_t c = 0; c < row.size() && c < columns.numeric.size(); ++c) {
    if (is_empty(row[c])) continue;
    const bool number = is_number(row[c], decimal);
    if (columns.numeric[c]) {
      if (!number) return false;
      any = true;
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

Dialect find_dialect(const std::vector<std::string>& head, Columns& best) {
  constexpr std::array<Dialect, 8> kCandidates{
      {{',', '.'}, {';', '.'}, {';', ','}, {'\t', '.'}, {'\t', ','}, {' ', '.'}, {' ', ','}, {',', ','}}};
  Dialect chosen;
  best.score = 0;
  for (const Dialect& candidate : kCandidates) {
    Columns columns = judge(split_all(head, candidate), candidate.decimal);
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

// Twice as many cells as names: "t,u,i" above "0,001,2,5,0,1".
bool numbers_come_in_pairs(const Rows& rows, std::size_t first_row) {
  std::size_t names = 0;
  for (std::size_t k = first_row; k-- > 0 && names == 0;) {
    if (rows[k].size() >= 2 &&
        std::none_of(rows[k].begin(), rows[k].end(), [](auto cell) { return is_number(cell, '.'); })) {
      names = rows[k].size();
    }
  }
  if (names < 2) return false;
  for (std::size_t k = first_row; k < rows.size(); ++k) {
    if (!rows[k].empty() && rows[k].size() != 2 * names) return false;
  }
  return true;
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
  const auto joined = [&](std::size_t k) {
    return std::string_view(cells[k].data(),
                            static_cast<std::size_t>(cells[k + 1].data() - cells[k].data()) + cells[k + 1].size());
  };
  if (dialect.join == Dialect::Join::clock) {
    if (!parse_clock(cells[0])) return;
    cells[0] = joined(0);
    cells.erase(cells.begin() + 1);
  } else {
    const std::size_t pairs = cells.size() / 2;
    for (std::size_t k = 0; k < pairs; ++k) cells[k] = joined(2 * k);
    cells.resize(pairs + cells.size() % 2);
  }
}

bool is_comment(std::string_view line, const Dialect& dialect) {
  if (line.empty()) return true;
  if (line.front() == ';') return dialect.separator != ';';
  return line.front() == '#' || line.front() == '%' || line.starts_with("//");
}

Layout detect_layout(const std::string& file, const std::vector<std::string>& head) {
  Layout layout;
  Columns columns;
  layout.dialect = find_dialect(head, columns);
  if (columns.score <= 0) {
    throw Error(ErrorCode::input_refused,
                "no rows of numbers were found; expected columns of time, voltage and current", Place{.file = file},
                "Export the waveform's samples as text, one row a sample.");
  }
  Rows rows = split_all(head, layout.dialect);
  const auto join = [&](Dialect::Join how, char decimal) {
    layout.dialect.join = how;
    layout.dialect.decimal = decimal;
    // Names have no pairs to join; they are split again where they are read.
    rows = split_all(head, layout.dialect);
    columns = judge(rows, decimal);
  };
  if (layout.dialect.separator == ',' && layout.dialect.decimal == '.') {
    if (fraction_follows_clock(rows)) {
      join(Dialect::Join::clock, '.');
    } else if (const std::size_t first = find_first_row(rows, columns, '.');
               first < rows.size() && numbers_come_in_pairs(rows, first)) {
      join(Dialect::Join::pairs, ',');
    }
  }
  const char decimal = layout.dialect.decimal;
  const std::size_t first = find_first_row(rows, columns, decimal);
  if (first == rows.size()) {
    throw Error(ErrorCode::input_refused,
                "rows of numbers do not begin within the first " + std::to_string(head.size()) + " lines",
                Place{.file = file}, "Remove what stands above the table.");
  }
  // Rows of the table above the place where it seems to begin: a damaged row lies between.
  for (std::size_t k = 0; k < first; ++k) {
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
    default:
      words += "blanks";
      break;
  }
  words += dialect.decimal == ',' ? ", decimal commas" : ", decimal points";
  if (dialect.join == Dialect::Join::clock) words += ", clock times with a comma before their fraction";
  if (!layout.has_header) words += ", no names above the columns";
  return words;
}

std::string column_label(const Layout& layout, std::size_t column) {
  if (column < layout.columns.size() && !layout.columns[column].name.empty()) return layout.columns[column].name;
  return std::to_string(column + 1);
}

}  // namespace lampload
