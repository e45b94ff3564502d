#include "core/capture/layout_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <functional>
#include <set>
#include <utility>

#include "core/capture/text_lines.h"
#include "core/capture/units.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr std::size_t most_lines = 1000;
constexpr std::size_t most_columns = 1000;

template <class T>
using Words = std::vector<std::pair<std::string_view, T>>;

const Words<char>& separators() {
  static const Words<char> words{{"comma", ','}, {"semicolon", ';'}, {"tab", '\t'}, {"bar", '|'}, {"blanks", ' '}};
  return words;
}
const Words<char>& decimals() {
  static const Words<char> words{{"point", '.'}, {"comma", ','}};
  return words;
}
const Words<CellJoin>& joins() {
  static const Words<CellJoin> words{{"none", CellJoin::none}, {"pairs", CellJoin::pairs}, {"clock", CellJoin::clock}};
  return words;
}

template <class T>
std::string_view word_of(const Words<T>& words, T value) {
  return std::find_if(words.begin(), words.end(), [&](const auto& word) { return word.second == value; })->first;
}

/// One "key = value" line of a layout file.
class Entry {
 public:
  Entry(const std::string& file, std::size_t line, std::string key, std::string_view value)
      : place_{.file = file, .line = line, .column = {}, .key = std::move(key)}, value_(value) {}

  [[nodiscard]] const std::string& key() const { return place_.key; }
  [[nodiscard]] std::string text() const {
    if (value_.empty()) refuse("a value was expected behind the equals sign", "Give one, or remove the line.");
    return std::string(value_);
  }
  template <class T>
  [[nodiscard]] T one_of(const Words<T>& words) const {
    std::string names;
    for (const auto& [word, meaning] : words) {
      if (word == value_) return meaning;
      names += (names.empty() ? "" : ", ") + std::string(word);
    }
    refuse(fmt::format("one of {} was expected, found \"{}\"", names, value_.substr(0, 60)), "Correct the value.");
  }
  [[nodiscard]] std::size_t count() const {
    std::size_t number = 0;
    const auto [end, failure] = std::from_chars(value_.data(), value_.data() + value_.size(), number);
    if (failure != std::errc{} || end != value_.data() + value_.size() || number == 0) {
      refuse(fmt::format("a whole number from 1 on was expected, found \"{}\"", value_.substr(0, 60)),
             "Correct the value.");
    }
    return number;
  }
  [[nodiscard]] double number(bool above_zero) const {
    const Cell cell = parse_cell(value_, '.');
    if (cell.kind != CellKind::number || (above_zero && !(cell.value > 0.0))) {
      refuse(
          fmt::format("a number{} was expected, found \"{}\"", above_zero ? " above zero" : "", value_.substr(0, 60)),
          "Give it in seconds, such as 2e-5.");
    }
    return cell.value;
  }
  [[nodiscard]] std::string unit(Quantity quantity) const {
    const auto known = parse_unit(value_);
    if (!known || known->quantity != quantity) {
      refuse(fmt::format("a unit of {} was expected, found \"{}\"", quantity_name(quantity), value_.substr(0, 60)),
             quantity == Quantity::time      ? "Give s, ms, us or ns."
             : quantity == Quantity::voltage ? "Give V, mV or kV."
                                             : "Give A, mA or uA.");
    }
    return std::string(value_);
  }
  [[nodiscard]] std::vector<std::string> list() const {
    std::vector<std::string> names;
    std::string_view left = text_or_refuse();
    while (true) {
      const auto comma = std::min(left.find(','), left.size());
      names.emplace_back(trimmed(left.substr(0, comma)));
      if (comma == left.size()) return names;
      left.remove_prefix(comma + 1);
      if (names.size() == most_columns) refuse("more than 1000 columns", "Check the line.");
    }
  }

  [[noreturn]] void refuse(std::string message, std::string remedy) const {
    throw Error(ErrorCode::input_refused, std::move(message), place_, std::move(remedy));
  }

 private:
  [[nodiscard]] std::string_view text_or_refuse() const {
    (void)text();
    return value_;
  }

  Place place_;
  std::string_view value_;
};

using Taker = std::function<void(const Entry&, WrittenLayout&)>;

const std::vector<std::pair<std::string_view, Taker>>& takers() {
  static const std::vector<std::pair<std::string_view, Taker>> list{
      {"separator", [](const Entry& e, WrittenLayout& l) { l.separator = e.one_of(separators()); }},
      {"decimal", [](const Entry& e, WrittenLayout& l) { l.decimal = e.one_of(decimals()); }},
      {"joined", [](const Entry& e, WrittenLayout& l) { l.join = e.one_of(joins()); }},
      {"first_row", [](const Entry& e, WrittenLayout& l) { l.first_row = e.count(); }},
      {"columns", [](const Entry& e, WrittenLayout& l) { l.names = e.list(); }},
      {"time_column", [](const Entry& e, WrittenLayout& l) { l.time_column = e.text(); }},
      {"voltage_column", [](const Entry& e, WrittenLayout& l) { l.voltage_column = e.text(); }},
      {"current_column", [](const Entry& e, WrittenLayout& l) { l.current_column = e.text(); }},
      {"time_unit", [](const Entry& e, WrittenLayout& l) { l.time_unit = e.unit(Quantity::time); }},
      {"voltage_unit", [](const Entry& e, WrittenLayout& l) { l.voltage_unit = e.unit(Quantity::voltage); }},
      {"current_unit", [](const Entry& e, WrittenLayout& l) { l.current_unit = e.unit(Quantity::current); }},
      {"sample_interval_s", [](const Entry& e, WrittenLayout& l) { l.sample_interval_s = e.number(true); }},
      {"start_time_s", [](const Entry& e, WrittenLayout& l) { l.start_time_s = e.number(false); }},
  };
  return list;
}

std::string names_of_keys() {
  std::string names = "format, format_version";
  for (const auto& [name, take] : takers()) names += ", " + std::string(name);
  return names;
}

void require_format(const Entry& entry) {
  if (entry.key() != "format" || entry.text() != "lampload-layout") {
    entry.refuse("\"format = lampload-layout\" was expected as the first line that is no comment",
                 "A layout file begins so; docs/formats/layout.md describes it.");
  }
}

void require_version(const Entry& entry) {
  if (!entry.text().starts_with("1.")) {
    entry.refuse(fmt::format("version {} of the format is not known, only 1.x", entry.text().substr(0, 20)),
                 "Use a newer lampload, or write the layout anew.");
  }
}

}  // namespace

WrittenLayout read_layout_file(const std::string& file) {
  TextLines lines(file);
  WrittenLayout layout;
  std::set<std::string, std::less<>> seen;
  while (const auto line = lines.next()) {
    if (line->empty() || line->front() == '#') continue;
    const auto equals = line->find('=');
    if (equals == std::string_view::npos || lines.line() > most_lines) {
      throw Error(ErrorCode::input_refused, "a line \"key = value\" was expected",
                  Place{.file = file, .line = lines.line()}, "Correct the line, or begin it with # as a comment.");
    }
    const Entry entry(file, lines.line(), std::string(trimmed(line->substr(0, equals))),
                      trimmed(line->substr(equals + 1)));
    if (seen.empty()) require_format(entry);
    if (!seen.insert(entry.key()).second) entry.refuse("the key is there twice", "Remove one of the two lines.");
    if (entry.key() == "format") continue;
    if (entry.key() == "format_version") {
      require_version(entry);
      continue;
    }
    const auto taker =
        std::find_if(takers().begin(), takers().end(), [&](const auto& known) { return known.first == entry.key(); });
    if (taker == takers().end()) {
      entry.refuse("there is no such key; the keys are " + names_of_keys(), "Correct or remove the line.");
    }
    taker->second(entry, layout);
  }
  if (seen.empty()) {
    throw Error(ErrorCode::input_refused, "holds no layout", Place{.file = file},
                "A layout file begins with \"format = lampload-layout\"; docs/formats/layout.md describes it.");
  }
  if (layout.separator && layout.decimal && *layout.separator == ',' && *layout.decimal == ',' &&
      layout.join.value_or(CellJoin::none) == CellJoin::none) {
    throw Error(ErrorCode::input_refused, "a comma cannot be separator and decimal sign of the same cell",
                Place{.file = file, .line = {}, .column = {}, .key = "decimal"},
                "Say \"joined = pairs\" where every number takes two cells.");
  }
  return layout;
}

void take_from_layout(CaptureOptions& options) {
  if (!options.layout) return;
  const WrittenLayout& layout = *options.layout;
  if (!options.time_column) options.time_column = layout.time_column;
  if (!options.voltage_column) options.voltage_column = layout.voltage_column;
  if (!options.current_column) options.current_column = layout.current_column;
  if (!options.sample_interval_s) options.sample_interval_s = layout.sample_interval_s;
}

std::string layout_file_text(const Layout& layout, const ChosenColumns& chosen, const std::string& of_file) {
  std::string text = fmt::format("# Layout of {}\nformat = lampload-layout\nformat_version = 1.0\n", of_file);
  text += fmt::format("separator = {}\ndecimal = {}\njoined = {}\nfirst_row = {}\n",
                      word_of(separators(), layout.dialect.separator), word_of(decimals(), layout.dialect.decimal),
                      word_of(joins(), layout.dialect.join), layout.first_row);
  text += "# Columns of numbers:\n";
  for (std::size_t c = 0; c < layout.columns.size(); ++c) {
    if (layout.columns[c].holds_numbers) text += fmt::format("#   {} {}\n", c + 1, layout.columns[c].name);
  }
  const auto column = [&](const char* what, std::optional<std::size_t> which, std::string_view base) {
    if (!which) {
      text += fmt::format("# {}_column = ?\n", what);
      return;
    }
    text += fmt::format("{}_column = {}\n", what, *which + 1);
    const Column& found = layout.columns[*which];
    if (found.units_in_cells) return;
    for (const std::string_view prefix : {"", "m", "u", "n", "k"}) {
      const std::string unit = std::string(prefix) + std::string(base);
      const auto known = parse_unit(unit);
      if (known && known->factor == found.meaning.factor) {
        text += fmt::format("{}_unit = {}\n", what, unit);
        return;
      }
    }
  };
  if (chosen.time || !layout.sample_interval_s) column("time", chosen.time, "s");
  column("voltage", chosen.voltage, "V");
  column("current", chosen.current, "A");
  if (!chosen.time && layout.sample_interval_s)
    text += fmt::format("sample_interval_s = {}\n", *layout.sample_interval_s);
  if (!chosen.time && layout.start_time_s) text += fmt::format("start_time_s = {}\n", *layout.start_time_s);
  return text;
}

}  // namespace lampload
