#pragma once
// Keys with values above (or beside) a table: the clock, units, names of channels.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "core/capture/header_rows.h"
#include "core/capture/layout.h"

namespace lampload {

struct PreambleKeys {
  std::optional<double> interval_s;
  std::optional<double> start_s;
  std::optional<Unit> value_unit;  ///< of the one channel
  std::optional<Unit> time_unit;
  std::string value_name;
  std::vector<std::optional<Unit>> column_unit;  ///< where keys stand in a column of their own
  std::vector<std::string> column_name;
  std::string voltage_column;
  std::string current_column;
  HeaderCells listed_names;  ///< "Column 1: time [ms]"
  std::string unread_clock;
  std::string scale_line;
  std::vector<std::string> unused_lines;

  /// Units of one line, each with the column it stands over; the key's own is 0, or there is none.
  struct StatedUnits {
    std::vector<std::optional<Unit>> units;
    bool key_has_column = false;
  };
  std::vector<StatedUnits> stated_units;

  /// The only unit that is stated of this kind.
  [[nodiscard]] std::optional<Unit> unit_of(Quantity quantity) const;
  /// Of a column by its place, where a line states one for every column, or for all but the first.
  [[nodiscard]] std::optional<Unit> unit_in_order(std::size_t column, std::size_t place, std::size_t columns) const;
};

/// True for what begins a line of a preamble, as plain_key() spells it.
bool is_preamble_key(const std::string& key);

PreambleKeys read_preamble_keys(const std::vector<std::string>& head, std::size_t first, const HeaderRows& rows,
                                const Layout& layout);

}  // namespace lampload
