#include "core/capture/header_rows.h"

#include <algorithm>
#include <array>
#include <optional>

#include "core/capture/column_names.h"
#include "core/capture/units.h"

namespace lampload {
namespace {

// A '#' that is followed by a separator is the name of a column of sample numbers.
std::string_view header_content(std::string_view line, char separator) {
  const bool is_name = line.size() > 1 && line.front() == '#' && separator != ' ' && line[1] == separator;
  return is_name ? line : without_comment_mark(line);
}

bool is_channel_or_time(Quantity quantity) {
  return quantity == Quantity::time || quantity == Quantity::voltage || quantity == Quantity::current;
}

bool is_bracketed(std::string_view cell) { return !cell.empty() && (cell.front() == '(' || cell.front() == '['); }

bool is_unit_row(const HeaderCells& cells, const Layout& layout) {
  if (!covers_numbers(cells, layout)) return false;
  bool any = false;
  for (std::size_t c = 0; c < layout.columns.size(); ++c) {
    if (!layout.columns[c].holds_numbers) continue;
    if (!unit_of_cell(cells[c]) && !is_bracketed(cells[c])) return false;
    any = any || parse_unit(cells[c]) || is_bracketed(cells[c]);
  }
  return any;
}

// Units of two columns or more, and nothing that says what a column holds: "s,V,mA/10", ",V,mA".
bool holds_units(const HeaderCells& cells, const Layout& layout) {
  std::size_t units = 0;
  if (cells.size() < layout.columns.size() && !covers_numbers(cells, layout)) return false;
  for (std::size_t c = 0; c < std::min(cells.size(), layout.columns.size()); ++c) {
    if (!layout.columns[c].holds_numbers || cells[c].empty()) continue;
    const auto unit = read_unit(cells[c], UnitPlace::brackets);
    if (unit) {
      ++units;
    } else if (column_meaning(cells[c], std::nullopt).quantity != Quantity::unknown) {
      return false;
    }
  }
  return units >= 2;
}

bool is_plain_number(std::string_view cell, char decimal) { return parse_cell(cell, decimal).kind == CellKind::number; }

bool is_name_row(const HeaderCells& cells, const Layout& layout) {
  if (!covers_numbers(cells, layout)) return false;
  return std::any_of(cells.begin(), cells.end(), [&](const std::string& cell) {
    return !cell.empty() && !is_plain_number(cell, layout.dialect.decimal);
  });
}

// "-----;-----": drawn between names and numbers.
bool is_rule(const HeaderCells& cells) {
  return std::all_of(cells.begin(), cells.end(),
                     [](const std::string& cell) { return cell.find_first_not_of("-=_+*~:| ") == std::string::npos; });
}

bool holds_figures(const HeaderCells& cells, const Layout& layout) {
  for (std::size_t c = 0; c < std::min(cells.size(), layout.columns.size()); ++c) {
    if (layout.columns[c].holds_numbers && is_plain_number(cells[c], layout.dialect.decimal)) return true;
  }
  return false;
}

// Columns of numbers over which a row says time, voltage or current.
std::size_t spoken(const HeaderCells& cells, const Layout& layout) {
  std::size_t count = 0;
  for (std::size_t c = 0; c < std::min(cells.size(), layout.columns.size()); ++c) {
    if (!layout.columns[c].holds_numbers || cells[c].empty()) continue;
    if (is_channel_or_time(column_meaning(cells[c], std::nullopt).quantity)) ++count;
  }
  return count;
}

std::size_t numeric_columns(const Layout& layout) {
  return static_cast<std::size_t>(
      std::count_if(layout.columns.begin(), layout.columns.end(), [](const Column& c) { return c.holds_numbers; }));
}

// Says what the columns hold, beyond doubt that it belongs to them.
bool speaks_for_table(const HeaderCells& cells, const Layout& layout) {
  if (cells.size() < layout.columns.size() && !covers_numbers(cells, layout)) return false;
  if (holds_figures(cells, layout)) return false;
  const std::size_t count = spoken(cells, layout);
  return count >= 2 || (count == 1 && numeric_columns(layout) == 1);
}

// "Voltage (V),Current (mA)" over time, voltage and current: the names of the two last columns.
std::optional<HeaderCells> behind_time(const HeaderCells& cells, const Layout& layout, bool time_first) {
  if (!time_first || cells.size() + 1 != layout.columns.size() || numeric_columns(layout) != layout.columns.size()) {
    return std::nullopt;
  }
  std::array<int, 2> channels{};
  for (const std::string& cell : cells) {
    const Quantity quantity = column_meaning(cell, std::nullopt).quantity;
    if (quantity == Quantity::time || quantity == Quantity::sample_index) return std::nullopt;
    if (quantity == Quantity::voltage) ++channels[0];
    if (quantity == Quantity::current) ++channels[1];
  }
  if (channels[0] != 1 || channels[1] != 1) return std::nullopt;
  HeaderCells moved{""};
  moved.insert(moved.end(), cells.begin(), cells.end());
  return moved;
}

// As far as it says what the columns hold; empty otherwise.
HeaderCells read_otherwise(const std::string& line, const Layout& layout, bool time_first) {
  const HeaderCells plain = header_cells(line, layout.dialect);
  if (const auto moved = behind_time(plain, layout, time_first)) return *moved;
  const std::string_view inside = unquoted(without_comment_mark(line));
  for (const char separator : {layout.dialect.separator, ',', ';', '\t', '|', ' '}) {
    Dialect dialect = layout.dialect;
    dialect.separator = separator;
    HeaderCells cells = header_cells(inside, dialect);
    if (cells.size() <= plain.size()) continue;
    // Blanks stand in sentences too.
    if (separator == ' ' && spoken(cells, layout) < numeric_columns(layout)) continue;
    if (cells.size() <= layout.columns.size() + 1 && covers_numbers(cells, layout) && speaks_for_table(cells, layout)) {
      return cells;
    }
    if (const auto moved = behind_time(cells, layout, time_first)) return *moved;
  }
  return {};
}

/// Lines that belong together by a quote that is left open.
struct HeaderLine {
  std::size_t from;
  std::size_t to;
  std::string text;
};

std::vector<HeaderLine> header_lines(const std::vector<std::string>& head, std::size_t first) {
  constexpr std::size_t most = 12;  // a name of as many lines
  const auto quotes = [](const std::string& text) { return std::count(text.begin(), text.end(), '"'); };
  std::vector<HeaderLine> lines;
  for (std::size_t k = 0; k < first; ++k) {
    std::size_t end = k;
    std::string text = head[k];
    while (quotes(text) % 2 != 0 && end + 1 < first && end - k < most) text += " " + head[++end];
    if (quotes(text) % 2 != 0) {
      end = k;
      text = head[k];
    }
    lines.push_back({k, end + 1, std::move(text)});
    k = end;
  }
  return lines;
}

}  // namespace

std::string_view without_comment_mark(std::string_view line) {
  while (!line.empty() && (line.front() == '#' || line.front() == '%' || line.front() == ';' || line.front() == '/')) {
    line.remove_prefix(1);
  }
  return trimmed(line);
}

HeaderCells header_cells(std::string_view line, Dialect dialect) {
  dialect.join = Dialect::Join::none;
  std::vector<std::string_view> cells;
  split_row(header_content(line, dialect.separator), dialect, cells);
  if (dialect.separator == ' ') {
    for (std::size_t k = 1; k < cells.size();) {
      if (cells[k].front() == '(' || cells[k].front() == '[') {
        cells[k - 1] = std::string_view(
            cells[k - 1].data(), static_cast<std::size_t>(cells[k].data() - cells[k - 1].data()) + cells[k].size());
        cells.erase(cells.begin() + static_cast<std::ptrdiff_t>(k));
      } else {
        ++k;
      }
    }
  }
  HeaderCells found;
  for (const std::string_view cell : cells) found.emplace_back(unquoted(cell));
  return found;
}

bool covers_numbers(const HeaderCells& cells, const Layout& layout) {
  for (std::size_t c = 0; c < layout.columns.size(); ++c) {
    if (layout.columns[c].holds_numbers && (c >= cells.size() || cells[c].empty())) return false;
  }
  return true;
}

std::optional<Unit> unit_of_cell(std::string_view cell) {
  if (const auto unit = parse_unit(cell)) return unit;
  // "Sequence" or "Sample" among units: the column counts.
  if (column_meaning(cell, std::nullopt).quantity == Quantity::sample_index) return Unit{Quantity::sample_index, 1.0};
  return std::nullopt;
}

FirstColumn first_column(const std::vector<std::string>& head, std::size_t first, const Layout& layout) {
  std::vector<std::string_view> cells;
  std::array<double, 2> last{};
  std::size_t rows = 0;
  bool falls = false;
  bool counts = true;
  for (std::size_t k = first; k < head.size(); ++k) {
    if (is_comment(head[k], layout.dialect)) continue;
    split_row(head[k], layout.dialect, cells);
    if (cells.size() < layout.columns.size()) continue;
    const MeasuredCell time = parse_measured(cells.front(), layout.dialect.decimal);
    const MeasuredCell value = parse_measured(cells[layout.columns.size() - 1], layout.dialect.decimal);
    if (time.kind != CellKind::number || value.kind != CellKind::number) continue;
    if (rows > 0 && time.value < last[0]) return FirstColumn::values;
    falls = falls || (rows > 0 && value.value < last[1]);
    counts = counts && (rows == 0 ? time.value == 0.0 || time.value == 1.0 : time.value == last[0] + 1.0);
    last = {time.value, value.value};
    ++rows;
  }
  if (rows < 4 || !falls) return FirstColumn::values;
  return counts ? FirstColumn::counts : FirstColumn::time;
}

HeaderRows find_header_rows(const std::vector<std::string>& head, std::size_t first, const Layout& layout,
                            bool (*is_key)(const std::string& key)) {
  HeaderRows found;
  found.used.assign(first, false);
  const bool time_first = first_column(head, first, layout) != FirstColumn::values;
  const std::vector<HeaderLine> lines = header_lines(head, first);
  bool next_to_table = true;
  bool below_is_names = false;
  const auto use = [&](HeaderCells& place, HeaderCells cells, const HeaderLine& line) {
    place = std::move(cells);
    std::fill(found.used.begin() + static_cast<std::ptrdiff_t>(line.from),
              found.used.begin() + static_cast<std::ptrdiff_t>(line.to), true);
  };
  for (std::size_t k = lines.size(); k-- > 0;) {
    const HeaderLine& line = lines[k];
    HeaderCells cells = header_cells(line.text, layout.dialect);
    if (cells.empty() || is_rule(cells)) continue;
    const bool told = spoken(found.names, layout) >= 2;
    if (!next_to_table && told && !below_is_names) break;
    below_is_names = false;
    if (is_key(plain_key(cells[0].substr(0, cells[0].find_first_of(":="))))) {
      next_to_table = false;
      continue;
    }
    if (found.units.empty() && is_unit_row(cells, layout)) {
      use(found.units, std::move(cells), line);
      continue;
    }
    if (!covers_numbers(cells, layout) && !speaks_for_table(cells, layout) && !holds_units(cells, layout)) {
      if (HeaderCells other = read_otherwise(line.text, layout, time_first); !other.empty()) cells = std::move(other);
    }
    const bool speaks = speaks_for_table(cells, layout);
    // A row of units that are not all understood has names above or below it.
    const bool above_speaks = k > 0 && speaks_for_table(header_cells(lines[k - 1].text, layout.dialect), layout);
    if (found.units.empty() && holds_units(cells, layout) && (told || above_speaks)) {
      use(found.units, std::move(cells), line);
      continue;
    }
    if (!speaks && !(next_to_table && is_name_row(cells, layout))) {
      next_to_table = false;
      continue;
    }
    if (found.names.empty()) {
      use(found.names, std::move(cells), line);
      below_is_names = true;
    } else if (speaks) {
      use(holds_figures(found.names, layout) ? found.names : found.other_names, std::move(cells), line);
      break;
    }
  }
  return found;
}

}  // namespace lampload
