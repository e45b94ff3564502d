#include <algorithm>
#include <charconv>
#include <string>
#include <vector>

#include "core/capture/layout.h"
#include "core/error.h"
#include "core/lower_case.h"

namespace lampload {
namespace {

constexpr std::size_t most_listed = 40;

std::string list_of(const Layout& layout) {
  std::string text;
  std::size_t listed = 0;
  for (std::size_t c = 0; c < layout.columns.size(); ++c) {
    const Column& column = layout.columns[c];
    if (!column.holds_numbers) continue;
    if (listed++ == most_listed) return text + ", ...";
    if (!text.empty()) text += ", ";
    text += std::to_string(c + 1);
    if (!column.name.empty()) text += " \"" + column.name + "\"";
    if (column.meaning.quantity != Quantity::unknown)
      text += " (" + std::string(quantity_name(column.meaning.quantity)) + ")";
  }
  return text;
}

class Chooser {
 public:
  Chooser(const std::string& file, const Layout& layout) : file_(file), layout_(layout) {}

  [[noreturn]] void refuse(const std::string& message, const std::string& remedy,
                           const std::string& column = {}) const {
    throw Error(ErrorCode::input_refused, message + "; the columns are " + list_of(layout_),
                Place{.file = file_, .column = column}, remedy);
  }

  /// Refuses a column whose name says what is wanted and whose cells are no numbers.
  void refuse_unreadable(Quantity quantity) const {
    for (std::size_t c = 0; c < layout_.columns.size(); ++c) {
      const Column& column = layout_.columns[c];
      if (column.holds_numbers || column.meaning.quantity != quantity || column.example.empty()) continue;
      refuse("column " + std::to_string(c + 1) + " \"" + column.name +
                 "\" holds no numbers that can be read, such as \"" + column.example + "\"",
             "Export it without thousands separators and with one kind of decimal sign.", column.name);
    }
  }

  // A header name (any case, outer blanks off, with or without its unit) or a 1-based number.
  [[nodiscard]] std::size_t by_option(const std::string& wanted) const {
    std::size_t number = 0;
    const std::string_view text = trimmed(wanted);
    const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), number);
    if (failure == std::errc{} && end == text.data() + text.size()) {
      if (number == 0 || number > layout_.columns.size()) {
        refuse("there is no column number " + wanted, "Choose one of these by name or number.", wanted);
      }
      require_numbers(number - 1, wanted);
      return number - 1;
    }
    std::vector<std::size_t> same;
    for (std::size_t c = 0; c < layout_.columns.size(); ++c) {
      if (equal_names(layout_.columns[c].name, text)) same.push_back(c);
    }
    if (same.empty()) refuse("there is no column \"" + wanted + "\"", "Choose one of these by name or number.", wanted);
    if (same.size() > 1) refuse("more than one column is named \"" + wanted + "\"", "Choose it by its number.", wanted);
    require_numbers(same[0], wanted);
    return same[0];
  }

  // The only column of this kind that is not taken yet; empty if there is none, refused if there are several.
  [[nodiscard]] std::optional<std::size_t> by_meaning(Quantity quantity, const ChosenColumns& taken,
                                                      const char* option) const {
    std::vector<std::size_t> found;
    for (std::size_t c = 0; c < layout_.columns.size(); ++c) {
      const bool free = taken.time != c && taken.voltage != c && taken.current != c;
      if (free && layout_.columns[c].holds_numbers && layout_.columns[c].meaning.quantity == quantity)
        found.push_back(c);
    }
    if (found.empty()) return std::nullopt;
    // Several time columns, one a channel, are the rule in some layouts: the first serves.
    if (found.size() > 1 && quantity != Quantity::time && quantity != Quantity::sample_index) {
      const std::string name(quantity_name(quantity));
      refuse("more than one column could be the " + name, std::string("Name the right one with ") + option + ".");
    }
    return found[0];
  }

  // The column that the file itself names for a quantity, if it has one of that name with numbers in it.
  [[nodiscard]] std::optional<std::size_t> by_file(const std::string& named) const {
    for (std::size_t c = 0; c < layout_.columns.size(); ++c) {
      if (layout_.columns[c].holds_numbers && equal_names(layout_.columns[c].name, named)) return c;
    }
    return std::nullopt;
  }

 private:
  void require_numbers(std::size_t column, const std::string& wanted) const {
    if (!layout_.columns[column].holds_numbers) {
      refuse("column " + wanted + " holds no numbers", "Choose another column.", wanted);
    }
  }

  static bool equal_names(std::string_view name, std::string_view wanted) {
    const auto lower = [](std::string_view text) { return lower_case(trimmed(text)); };
    if (name.empty()) return false;
    const auto bracket = name.find_first_of("[(");
    return lower(name) == lower(wanted) ||
           (bracket != std::string_view::npos && lower(name.substr(0, bracket)) == lower(wanted));
  }

  const std::string& file_;
  const Layout& layout_;
};

void choose_by_order(const Chooser& chooser, const Layout& layout, const CaptureOptions& options, Channels channels,
                     ChosenColumns& chosen) {
  std::vector<std::size_t> free;
  std::size_t numeric = 0;
  for (std::size_t c = 0; c < layout.columns.size(); ++c) {
    if (!layout.columns[c].holds_numbers) continue;
    ++numeric;
    if (chosen.time != c && chosen.voltage != c && chosen.current != c) free.push_back(c);
  }
  const bool times_itself = options.sample_interval_s || layout.timed_by_itself;
  const bool values_chosen =
      (chosen.voltage || channels == Channels::current_only) && (chosen.current || channels == Channels::voltage_only);
  if (times_itself && values_chosen) return;  // no column is looked for
  const std::size_t values = channels == Channels::both ? 2 : 1;
  const bool interval_known = options.sample_interval_s || layout.sample_interval_s;
  const bool has_time = chosen.time || (!layout.timed_by_itself && (numeric > values || !interval_known));
  std::size_t next = 0;
  const auto take = [&](std::optional<std::size_t>& slot) {
    if (!slot && next < free.size()) slot = free[next++];
  };
  if (has_time) take(chosen.time);
  if (channels != Channels::current_only) take(chosen.voltage);
  if (channels != Channels::voltage_only) take(chosen.current);
  if (next < free.size()) {
    const std::string which = channels == Channels::both           ? "--voltage-column and --current-column"
                              : channels == Channels::voltage_only ? "--voltage-column"
                                                                   : "--current-column";
    if (layout.timed_by_itself) {
      chooser.refuse("nothing names the channels, and there are more columns than voltage and current",
                     "Give the numbers of those to read with " + which + ".");
    }
    chooser.refuse("there is no header, and more columns than time, voltage and current",
                   "Name them with " + which + ", and the time with --time-column or, where no column holds it, " +
                       "--sample-interval.");
  }
}

}  // namespace

ChosenColumns choose_columns(const std::string& file, const Layout& layout, const CaptureOptions& options,
                             Channels channels) {
  const Chooser chooser(file, layout);
  const bool wants_voltage = channels != Channels::current_only;
  const bool wants_current = channels != Channels::voltage_only;
  ChosenColumns chosen;
  if (options.time_column) chosen.time = chooser.by_option(*options.time_column);
  if (options.voltage_column && wants_voltage) chosen.voltage = chooser.by_option(*options.voltage_column);
  if (options.current_column && wants_current) chosen.current = chooser.by_option(*options.current_column);
  if (wants_voltage && !chosen.voltage) chosen.voltage = chooser.by_file(layout.voltage_column);
  if (wants_current && !chosen.current) chosen.current = chooser.by_file(layout.current_column);
  if ((chosen.voltage && chosen.voltage == chosen.current) ||
      (chosen.time && (chosen.time == chosen.voltage || chosen.time == chosen.current))) {
    chooser.refuse("the same column is named twice", "Name three different columns.");
  }

  const bool time_is_said = chosen.time.has_value();
  const bool complete = chosen.time && (chosen.voltage || !wants_voltage) && (chosen.current || !wants_current);
  if (!layout.has_header && !complete) {
    choose_by_order(chooser, layout, options, channels, chosen);
  } else {
    if (!chosen.time) chosen.time = chooser.by_meaning(Quantity::time, chosen, "--time-column");
    if (wants_voltage && !chosen.voltage)
      chosen.voltage = chooser.by_meaning(Quantity::voltage, chosen, "--voltage-column");
    if (wants_current && !chosen.current)
      chosen.current = chooser.by_meaning(Quantity::current, chosen, "--current-column");
  }
  if (!time_is_said && chosen.time && chosen.voltage && chosen.current) {
    // A time column for each channel: the one before it.
    const auto before = [&](std::size_t column) {
      while (column-- > 0) {
        if (column == *chosen.voltage || column == *chosen.current) continue;
        if (layout.columns[column].meaning.quantity == Quantity::time) return column;
      }
      return *chosen.time;
    };
    const std::size_t of_current = before(*chosen.current);
    chosen.time = before(*chosen.voltage);
    if (of_current != *chosen.time) chosen.current_time = of_current;
  }
  // A file of one channel among a pair may leave its unit unsaid.
  if (channels != Channels::both) {
    std::optional<std::size_t>& wanted = wants_voltage ? chosen.voltage : chosen.current;
    if (!wanted)
      wanted = chooser.by_meaning(Quantity::unknown, chosen, wants_voltage ? "--voltage-column" : "--current-column");
  }
  if (wants_voltage && !chosen.voltage) {
    chooser.refuse_unreadable(Quantity::voltage);
    chooser.refuse("no column of voltage was found",
                   "Name it with --voltage-column (and its factor with --voltage-scale).");
  }
  if (wants_current && !chosen.current) {
    chooser.refuse_unreadable(Quantity::current);
    chooser.refuse(
        "no column of current was found",
        "Name it with --current-column (and its factor with --current-scale), or give voltage and current files "
        "of one measurement as VOLTAGE.csv+CURRENT.csv.");
  }
  return chosen;
}

}  // namespace lampload
