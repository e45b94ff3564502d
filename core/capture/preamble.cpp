#include "core/capture/preamble.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string_view>

#include "core/capture/column_names.h"
#include "core/capture/header_rows.h"
#include "core/capture/preamble_keys.h"

namespace lampload {
namespace {

// "t,u,i" below "Time (s),Voltage (V),Current (mA)": the upper row has the unit.
std::optional<Unit> unit_of_other(const HeaderRows& rows, std::size_t c, Quantity quantity) {
  if (c >= rows.other_names.size()) return std::nullopt;
  const auto unit = unit_in_name(rows.other_names[c]);
  return unit && unit->quantity == quantity ? unit : std::nullopt;
}

void take_names(const HeaderRows& rows, const PreambleKeys& keys, Layout& layout) {
  const bool keyed = !keys.column_unit.empty() || !keys.column_name.empty();
  for (std::size_t c = 0; c < std::min(rows.names.size(), layout.columns.size()) && !keyed; ++c) {
    layout.columns[c].name = rows.names[c];
  }
  for (std::size_t c = 0; c < layout.columns.size(); ++c) {
    Column& column = layout.columns[c];
    if (!column.holds_numbers) continue;
    if (c < keys.column_name.size()) column.name = keys.column_name[c];
    std::optional<Unit> unit;
    if (c < rows.units.size()) {
      unit = unit_of_cell(rows.units[c]);
      if (!unit && !rows.units[c].empty()) column.unread_unit = rows.units[c];
    }
    if (c < keys.column_unit.size()) unit = keys.column_unit[c];
    column.meaning = column_meaning(column.name, unit);
    if (!unit) {
      unit = unit_in_name(column.name);
      if (column.unread_unit.empty()) column.unread_unit = unread_unit(column.name);
    }
    // A header in two languages: the line above may say what this one does not.
    if (column.meaning.quantity == Quantity::unknown && c < rows.other_names.size()) {
      column.meaning = column_meaning(rows.other_names[c], unit);
      if (!unit) unit = unit_in_name(rows.other_names[c]);
      if (column.unread_unit.empty()) column.unread_unit = unread_unit(rows.other_names[c]);
    } else if (!unit) {
      if ((unit = unit_of_other(rows, c, column.meaning.quantity))) column.meaning.factor = unit->factor;
    }
    column.unit_is_said = unit.has_value();
  }
  layout.has_header = !rows.names.empty() || !rows.units.empty() || keyed;
}

void take_unit(Column& column, const Unit& unit) {
  column.meaning = column_meaning(column.name, unit);
  column.unit_is_said = true;
}

// Units that the preamble states for the columns in the order of these, or for one of each kind.
void take_stated_units(const PreambleKeys& keys, const std::vector<std::size_t>& numeric, Layout& layout) {
  for (std::size_t place = 0; place < numeric.size(); ++place) {
    Column& column = layout.columns[numeric[place]];
    if (column.unit_is_said || !column.unread_unit.empty()) continue;
    const Quantity quantity = column.meaning.quantity;
    if (quantity == Quantity::other || quantity == Quantity::sample_index) continue;
    if (quantity != Quantity::unknown) {
      if (const auto unit = keys.unit_of(quantity)) {
        take_unit(column, *unit);
        continue;
      }
    }
    if (const auto unit = keys.unit_in_order(numeric[place], place, numeric.size())) {
      take_unit(column, *unit);
      layout.has_header = true;
    }
  }
  // One channel and its time: "Vertical Units,mA" above "Time,Value".
  std::vector<std::size_t> unsaid;
  bool channel = false;
  for (const std::size_t c : numeric) {
    const Quantity quantity = layout.columns[c].meaning.quantity;
    channel = channel || quantity == Quantity::voltage || quantity == Quantity::current;
    if (quantity == Quantity::unknown && layout.columns[c].unread_unit.empty()) unsaid.push_back(c);
  }
  if (layout.has_header && keys.value_unit && !channel && unsaid.size() == 1) {
    take_unit(layout.columns[unsaid[0]], *keys.value_unit);
  }
}

}  // namespace

void read_header(const std::vector<std::string>& head, std::size_t first, Layout& layout) {
  HeaderRows rows = find_header_rows(head, first, layout, is_preamble_key);
  const PreambleKeys keys = read_preamble_keys(head, first, rows, layout);
  layout.sample_interval_s = keys.interval_s;
  layout.start_time_s = keys.start_s;
  layout.voltage_column = keys.voltage_column;
  layout.current_column = keys.current_column;
  layout.unread_clock = keys.unread_clock;
  layout.scale_line = keys.scale_line;
  layout.unused_lines = keys.unused_lines;

  std::vector<std::size_t> numeric;
  for (std::size_t c = 0; c < layout.columns.size(); ++c) {
    if (layout.columns[c].holds_numbers) numeric.push_back(c);
  }
  if (rows.names.empty() && keys.listed_names.size() >= layout.columns.size()) rows.names = keys.listed_names;
  take_names(rows, keys, layout);
  take_stated_units(keys, numeric, layout);

  // One channel whose preamble names its unit, above (or beside) bare rows of time and value.
  if (!layout.has_header && keys.value_unit && !numeric.empty() && numeric.size() <= 2) {
    Column& value = layout.columns[numeric.back()];
    value.name = keys.value_name;
    value.meaning = *keys.value_unit;
    value.unit_is_said = true;
    if (numeric.size() == 2) {
      layout.columns[numeric[0]].meaning = keys.time_unit.value_or(Unit{Quantity::time, 1.0});
      layout.columns[numeric[0]].unit_is_said = keys.time_unit.has_value();
    }
    layout.has_header = true;
  }

  // Names or units over the channels alone: the first column is time where its values are.
  const bool has_time = std::any_of(layout.columns.begin(), layout.columns.end(), [](const Column& column) {
    return column.holds_numbers && column.meaning.quantity == Quantity::time;
  });
  if (has_time || !layout.has_header || numeric.size() < 2 || numeric[0] != 0 || !layout.columns[0].name.empty() ||
      layout.columns[0].meaning.quantity != Quantity::unknown) {
    return;
  }
  const FirstColumn looks = first_column(head, first, layout);
  if (looks == FirstColumn::counts) layout.columns[0].meaning = {Quantity::sample_index, 1.0};
  if (looks != FirstColumn::time) return;
  layout.columns[0].meaning = keys.time_unit.value_or(Unit{Quantity::time, 1.0});
  layout.time_without_name = true;
}

}  // namespace lampload
