#include "core/capture/layout_notes.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <string_view>

#include "core/capture/column_names.h"
#include "core/capture/header_rows.h"
#include "core/capture/units.h"

namespace lampload {
namespace {

constexpr std::size_t kMostQuoted = 80;

/// A column that is read, and what a person can say of it.
struct ReadColumn {
  std::size_t index;
  Quantity quantity;
  const char* unit;
  const char* remedy;
  bool said_by_person;
};

std::vector<ReadColumn> read_columns(const ChosenColumns& chosen, const CaptureOptions& options) {
  const WrittenLayout written = options.layout.value_or(WrittenLayout{});
  std::vector<ReadColumn> columns;
  const auto add = [&](std::optional<std::size_t> column, Quantity quantity, const char* unit, const char* remedy,
                       bool said) {
    if (column) columns.push_back({*column, quantity, unit, remedy, said});
  };
  add(chosen.time, Quantity::time, "seconds", "--sample-interval, or time_unit in a layout file",
      written.time_unit.has_value());
  add(chosen.voltage, Quantity::voltage, "volts", "--voltage-scale, or voltage_unit in a layout file",
      options.voltage_scale != 1.0 || written.voltage_unit);
  add(chosen.current, Quantity::current, "amperes", "--current-scale, or current_unit in a layout file",
      options.current_scale != 1.0 || written.current_unit);
  return columns;
}

std::vector<std::string_view> cells_of_column(const std::vector<std::string>& head, const Layout& layout,
                                              std::size_t column) {
  std::vector<std::string_view> cells;
  std::vector<std::string_view> found;
  for (std::size_t k = layout.first_row - 1; k < head.size(); ++k) {
    if (is_comment(head[k], layout.dialect)) continue;
    split_row(head[k], layout.dialect, cells);
    if (column < cells.size() && !unquoted(cells[column]).empty()) found.push_back(unquoted(cells[column]));
  }
  return found;
}

bool all_whole(const std::vector<std::string_view>& cells) {
  return cells.size() > 3 && std::all_of(cells.begin(), cells.end(), [](std::string_view cell) {
           return cell.find_first_not_of("+-0123456789") == std::string_view::npos;
         });
}

std::string quoted(const std::string& line) {
  return line.size() > kMostQuoted ? line.substr(0, kMostQuoted) + "..." : line;
}

// "mA", "ms", "microseconds": a unit that makes a difference, not one of a value ("10 ms"), nor "mV/A".
std::vector<Unit> units_with_prefix(std::string_view line) {
  static constexpr std::string_view kBetween = " \t,;:|=()[]{}<>\"#%";
  std::vector<Unit> found;
  bool behind_figure = false;
  for (std::size_t from = 0; from < line.size();) {
    const auto to = std::min(line.find_first_of(kBetween, from), line.size());
    const std::string_view token = line.substr(from, to - from);
    from = to + 1;
    if (token.empty()) continue;
    const bool is_figure = token.find_first_of("0123456789") != std::string_view::npos;
    const bool is_short = token.size() < 4;
    // "MS 2000" and "Ma" are none.
    const bool spelled = !is_short || ((token.front() == 'm' || token.front() == 'u' || token.front() == 'n' ||
                                        token.front() == 'k' || static_cast<unsigned char>(token.front()) >= 0x80) &&
                                       (token.back() == 's' || token.back() == 'V' || token.back() == 'A'));
    const auto unit = spelled && !is_figure && !behind_figure ? parse_unit(token) : std::nullopt;
    const bool prefixed = unit && (unit->factor < 1.0 || unit->factor == 1e3);
    if (prefixed && unit->quantity != Quantity::other) found.push_back(*unit);
    behind_figure = is_figure;
  }
  return found;
}

// Says what two columns hold, or in what unit.
bool tells_of_columns(std::string_view line) {
  if (!units_with_prefix(line).empty()) return true;
  std::size_t spoken = 0;
  for (std::size_t from = 0; from <= line.size();) {
    const auto to = std::min(line.find_first_of(",;\t|", from), line.size());
    const std::string_view cell = trimmed(line.substr(from, to - from));
    from = to + 1;
    if (cell.empty() || parse_measured(cell, '.').kind == CellKind::number) continue;
    const Quantity quantity = column_meaning(cell, std::nullopt).quantity;
    if (quantity == Quantity::time || quantity == Quantity::voltage || quantity == Quantity::current) ++spoken;
  }
  return spoken >= 2;
}

std::string unit_taken(const Column& column, const ReadColumn& read) {
  if (column.meaning.factor == 1.0) return read.unit;
  return fmt::format("{} after a factor of {:g}", read.unit, column.meaning.factor);
}

void note_unread_units(const std::vector<std::string>& head, const Layout& layout,
                       const std::vector<ReadColumn>& columns, std::vector<QualityNote>& notes) {
  for (const ReadColumn& read : columns) {
    const Column& column = layout.columns[read.index];
    if (column.unread_unit.empty() || column.units_in_cells || read.said_by_person) continue;
    if (read.quantity == Quantity::time) {
      const auto cells = cells_of_column(head, layout, read.index);
      if (!cells.empty() && parse_clock(cells.front())) continue;
    }
    notes.push_back({"unit_not_understood", Severity::warning,
                     fmt::format("The unit of the {} column \"{}\" is not understood: \"{}\". Its values were taken as "
                                 "{}; if they are none, give {}.",
                                 quantity_name(read.quantity), column_label(layout, read.index),
                                 quoted(column.unread_unit), unit_taken(column, read), read.remedy)});
  }
}

void note_unused_header(const Layout& layout, const std::vector<ReadColumn>& columns, std::vector<QualityNote>& notes) {
  if (std::all_of(columns.begin(), columns.end(), [](const ReadColumn& c) { return c.said_by_person; })) return;
  const auto unsaid = [&](const Unit& unit) {
    return std::any_of(columns.begin(), columns.end(), [&](const ReadColumn& read) {
      const Column& column = layout.columns[read.index];
      return read.quantity == unit.quantity && !read.said_by_person && !column.unit_is_said && !column.units_in_cells &&
             column.unread_unit.empty();
    });
  };
  for (const std::string& line : layout.unused_lines) {
    const std::vector<Unit> units = units_with_prefix(line);
    const bool matters = layout.has_header ? std::any_of(units.begin(), units.end(), unsaid) : tells_of_columns(line);
    if (!matters) continue;
    notes.push_back(
        {"header_not_used", Severity::warning,
         fmt::format("A line above the table says something of its columns that was not used: \"{}\". {} Check columns "
                     "and units, and say them with --voltage-column, --current-column, --voltage-scale, "
                     "--current-scale, or a layout file.",
                     quoted(line),
                     layout.has_header ? "The columns were taken in s, V and A where nothing else says so."
                                       : "The columns were taken by their order, in s, V and A.")});
    return;
  }
}

void note_codes(const std::vector<std::string>& head, const Layout& layout, const std::vector<ReadColumn>& columns,
                std::vector<QualityNote>& notes) {
  static constexpr std::array<std::string_view, 8> kCodeWords{"raw",    "adc", "code",  "codes",
                                                              "counts", "lsb", "digit", "digits"};
  for (const ReadColumn& read : columns) {
    const Column& column = layout.columns[read.index];
    if (read.quantity == Quantity::time || read.said_by_person || !column.unread_unit.empty()) continue;
    const std::vector<std::string> words = words_of(column.name);
    const bool named =
        std::any_of(words.begin(), words.end(), [](const std::string& word) { return is_among(word, kCodeWords); });
    if ((!named && layout.scale_line.empty()) || !all_whole(cells_of_column(head, layout, read.index))) continue;
    const char* option = read.quantity == Quantity::voltage ? "--voltage-scale and --voltage-offset"
                                                            : "--current-scale and --current-offset";
    notes.push_back(
        {"scale_unknown", Severity::warning,
         fmt::format("The {} column \"{}\" holds whole numbers, and {}: they may be a converter's codes. They were "
                     "taken as {}; give {} for what a code is.",
                     quantity_name(read.quantity), column_label(layout, read.index),
                     named
                         ? std::string("its name says so")
                         : fmt::format("a line above the table speaks of a scale (\"{}\")", quoted(layout.scale_line)),
                     read.unit, option)});
  }
}

}  // namespace

std::vector<QualityNote> layout_notes(const std::vector<std::string>& head, const Layout& layout,
                                      const ChosenColumns& chosen, const CaptureOptions& options) {
  std::vector<QualityNote> notes;
  const std::vector<ReadColumn> columns = read_columns(chosen, options);
  if (chosen.time == std::size_t{0} && layout.time_without_name && !options.time_column) {
    notes.push_back({"no_header", Severity::note, "The first column has no name; it was taken as time."});
  }
  note_unread_units(head, layout, columns, notes);
  note_unused_header(layout, columns, notes);
  note_codes(head, layout, columns, notes);
  return notes;
}

}  // namespace lampload
