#include "core/capture/preamble.h"

#include <algorithm>
#include <array>
#include <optional>
#include <string_view>

namespace lampload {
namespace {

using Cells = std::vector<std::string_view>;

constexpr std::array<std::string_view, 15> kIntervalKeys{
    "sampleinterval",    "samplinginterval", "samplingperiod", "sampleperiod",
    "increment",         "xincrement",       "xincr",          "hresolution",
    "timestep",          "timeinterval",     "deltat",         "dt",
    "timebaseincrement", "abtastintervall",  "intervallo"};
constexpr std::array<std::string_view, 8> kRateKeys{
    "samplerate", "samplingrate", "samplefrequency", "samplingfrequency", "abtastrate", "abtastfrequenz", "rate", "fs"};
// Where the first sample stands in time.
constexpr std::array<std::string_view, 10> kStartKeys{"start",   "starttime", "xstart",    "xzero",     "xorigin",
                                                      "hoffset", "timezero",  "startzeit", "timestart", "t0"};
constexpr std::array<std::string_view, 5> kUnitKeys{"verticalunits", "vunit", "yunit", "yunits", "verticalunit"};
constexpr std::array<std::string_view, 5> kTimeUnitKeys{"horizontalunits", "hunit", "xunit", "xunits",
                                                        "horizontalunit"};
constexpr std::array<std::string_view, 4> kNameKeys{"tracename", "source", "channel", "signal"};

// Of several columns of one quantity, the one that is meant.
constexpr std::string_view kVoltageColumnKey = "voltagecolumn";
constexpr std::string_view kCurrentColumnKey = "currentcolumn";

template <std::size_t n>
bool is_one_of(const std::string& key, const std::array<std::string_view, n>& list) {
  return std::find(list.begin(), list.end(), key) != list.end();
}

bool is_key(const std::string& key) {
  return is_one_of(key, kIntervalKeys) || is_one_of(key, kRateKeys) || is_one_of(key, kUnitKeys) ||
         is_one_of(key, kTimeUnitKeys) || is_one_of(key, kNameKeys) || is_one_of(key, kStartKeys);
}

bool is_plain_number(std::string_view cell, char decimal) { return parse_cell(cell, decimal).kind == CellKind::number; }

std::string_view without_comment_mark(std::string_view line) {
  while (!line.empty() && (line.front() == '#' || line.front() == '%' || line.front() == ';' || line.front() == '/')) {
    line.remove_prefix(1);
  }
  return trimmed(line);
}

// A '#' that is followed by a separator is the name of a column of sample numbers.
std::string_view header_content(std::string_view line, char separator) {
  const bool is_name = line.size() > 1 && line.front() == '#' && separator != ' ' && line[1] == separator;
  return is_name ? line : without_comment_mark(line);
}

// A header is never joined; in blank-separated ones "Time (s)" is one name.
Cells header_cells(std::string_view line, Dialect dialect) {
  dialect.join = Dialect::Join::none;
  Cells cells;
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
  for (std::string_view& cell : cells) cell = unquoted(cell);
  return cells;
}

bool covers_numbers(const Cells& cells, const Layout& layout) {
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

bool is_unit_row(const Cells& cells, const Layout& layout) {
  if (!covers_numbers(cells, layout)) return false;
  bool any = false;
  for (std::size_t c = 0; c < layout.columns.size(); ++c) {
    if (!layout.columns[c].holds_numbers) continue;
    const bool bracketed = cells[c].front() == '(' || cells[c].front() == '[';
    if (!unit_of_cell(cells[c]) && !bracketed) return false;
    any = any || parse_unit(cells[c]) || bracketed;
  }
  return any;
}

bool is_name_row(const Cells& cells, const Layout& layout) {
  if (!covers_numbers(cells, layout)) return false;
  return std::any_of(cells.begin(), cells.end(), [&](std::string_view cell) {
    return !cell.empty() && !is_plain_number(cell, layout.dialect.decimal);
  });
}

// "CH1:0.00002" -> "0.00002"
std::string_view after_channel(std::string_view value) {
  const auto colon = value.rfind(':');
  return colon == std::string_view::npos ? value : trimmed(value.substr(colon + 1));
}

struct Preamble {
  std::optional<double> interval_s;
  std::optional<double> start_s;
  std::optional<Unit> value_unit;  // of the one channel
  std::optional<Unit> time_unit;
  std::string value_name;
  std::vector<std::optional<Unit>> column_unit;
  std::vector<std::string> column_name;
  std::string voltage_column;
  std::string current_column;
};

bool values_fill_columns(const Cells& cells, const Layout& layout) {
  return covers_numbers(cells, layout) && !layout.columns.empty() && !layout.columns[0].holds_numbers &&
         std::count_if(layout.columns.begin(), layout.columns.end(), [](const Column& c) { return c.holds_numbers; }) >
             1;
}

// beside: the key stands in a row of the table, so what fills the columns are samples.
void take_key(const Cells& cells, const Layout& layout, bool beside, Preamble& found) {
  if (cells.empty()) return;
  std::string key = plain_key(cells[0]);
  std::string_view value = cells.size() > 1 ? cells[1] : std::string_view{};
  if (const auto mark = cells[0].find_first_of(":="); value.empty() && mark != std::string_view::npos) {
    key = plain_key(cells[0].substr(0, mark));
    value = trimmed(cells[0].substr(mark + 1));
  }
  if (is_one_of(key, kIntervalKeys)) {
    if (const auto interval = parse_quantity(after_channel(value)); interval && *interval > 0)
      found.interval_s = interval;
  } else if (is_one_of(key, kRateKeys)) {
    if (const auto rate = parse_quantity(after_channel(value)); rate && *rate > 0 && !found.interval_s) {
      found.interval_s = 1.0 / *rate;
    }
  } else if (is_one_of(key, kStartKeys)) {
    if (const auto start = parse_quantity(after_channel(value))) found.start_s = start;
  } else if (is_one_of(key, kTimeUnitKeys)) {
    found.time_unit = parse_unit(after_channel(value));
  } else if (is_one_of(key, kUnitKeys)) {
    found.value_unit = parse_unit(after_channel(value));
    if (!beside && values_fill_columns(cells, layout)) {
      for (const std::string_view cell : cells) found.column_unit.push_back(parse_unit(cell));
    }
  } else if (key == kVoltageColumnKey) {
    found.voltage_column = value;
  } else if (key == kCurrentColumnKey) {
    found.current_column = value;
  } else if (is_one_of(key, kNameKeys)) {
    found.value_name = value;
    if (!beside && values_fill_columns(cells, layout)) found.column_name.assign(cells.begin(), cells.end());
  }
}

// "CH1,CH2,Start,Increment" above "Volt,Volt,-0.004,2e-05"
void take_keys_in_names(const Cells& names, const Cells& below, const Layout& layout, Preamble& found) {
  for (std::size_t c = 0; c < names.size() && c < below.size(); ++c) {
    const bool in_table = c < layout.columns.size() && layout.columns[c].holds_numbers;
    if (!in_table && is_one_of(plain_key(names[c]), kIntervalKeys)) {
      if (const auto interval = parse_quantity(below[c]); interval && *interval > 0) found.interval_s = interval;
    } else if (!in_table && is_one_of(plain_key(names[c]), kStartKeys)) {
      if (const auto start = parse_quantity(below[c])) found.start_s = start;
    }
  }
}

}  // namespace

void read_header(const std::vector<std::string>& head, std::size_t first, Layout& layout) {
  Cells names;
  Cells other_names;  // above these
  Cells units;
  std::size_t names_line = head.size();
  for (std::size_t k = first; k-- > 0;) {
    const Cells cells = header_cells(head[k], layout.dialect);
    if (cells.empty()) continue;
    if (is_key(plain_key(cells[0]))) break;
    if (units.empty() && is_unit_row(cells, layout)) {
      units = cells;
    } else if (is_name_row(cells, layout)) {
      if (!names.empty()) {
        other_names = cells;
        break;
      }
      names = cells;
      names_line = k;
    } else {
      break;
    }
  }

  Preamble found;
  for (std::size_t k = 0; k < head.size(); ++k) {
    if (k == names_line) continue;
    const bool beside = k >= first;
    if (beside && (layout.columns.empty() || layout.columns[0].holds_numbers)) break;
    take_key(header_cells(head[k], layout.dialect), layout, beside, found);
  }
  if (!names.empty() && !units.empty()) take_keys_in_names(names, units, layout, found);
  layout.sample_interval_s = found.interval_s;
  layout.start_time_s = found.start_s;
  layout.voltage_column = found.voltage_column;
  layout.current_column = found.current_column;

  std::vector<std::size_t> numeric;
  for (std::size_t c = 0; c < layout.columns.size(); ++c) {
    if (layout.columns[c].holds_numbers) numeric.push_back(c);
  }
  const bool keyed = !found.column_unit.empty() || !found.column_name.empty();
  for (std::size_t c = 0; c < std::min(names.size(), layout.columns.size()) && !keyed; ++c) {
    layout.columns[c].name = names[c];
  }
  for (const std::size_t c : numeric) {
    Column& column = layout.columns[c];
    if (c < found.column_name.size()) column.name = found.column_name[c];
    std::optional<Unit> unit;
    if (c < units.size()) unit = unit_of_cell(units[c]);
    if (c < found.column_unit.size()) unit = found.column_unit[c];
    column.meaning = column_meaning(column.name, unit);
    // A header in two languages: the line above may say what this one does not.
    if (column.meaning.quantity == Quantity::unknown && c < other_names.size()) {
      column.meaning = column_meaning(other_names[c], unit);
    }
  }
  layout.has_header = !names.empty() || !units.empty() || keyed;

  // One channel whose preamble names its unit, above (or beside) bare rows of time and value.
  if (!layout.has_header && found.value_unit && !numeric.empty() && numeric.size() <= 2) {
    Column& value = layout.columns[numeric.back()];
    value.name = found.value_name;
    value.meaning = *found.value_unit;
    if (numeric.size() == 2) layout.columns[numeric[0]].meaning = found.time_unit.value_or(Unit{Quantity::time, 1.0});
    layout.has_header = true;
  }
}

}  // namespace lampload
