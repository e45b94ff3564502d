#include "core/capture/table_rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/capture/large_pages.h"
#include "core/capture/lost_samples.h"
#include "core/capture/readers.h"
#include "core/capture/stated_interval.h"

namespace lampload {
namespace {

std::string shown(std::string_view text) { return std::string(text.substr(0, 60)); }

}  // namespace

TableRows::TableRows(const std::string& file, const Layout& layout, const ChosenColumns& chosen, const RowShape& shape,
                     std::vector<std::string> head)
    : file_(file), layout_(layout), chosen_(chosen), shape_(shape), head_(std::move(head)) {
  capture_.file = file;
}

void TableRows::reserve(std::size_t rows) {
  if (chosen_.voltage) capture_.voltage_v.reserve(rows);
  if (chosen_.current) capture_.current_a.reserve(rows);
  if (chosen_.time) stamps_.reserve(rows);
  ask_for_large_pages(capture_.voltage_v);
  ask_for_large_pages(capture_.current_a);
}

void TableRows::take(const PlainRows& block, std::size_t first_line) {
  std::size_t row = 0;
  std::size_t line = first_line;
  for (const auto& other : block.others) {
    take_plain(block, row, other.rows_before, line);
    line += other.rows_before - row;
    row = other.rows_before;
    take_line(line_content(other.text), line);
    ++line;
  }
  take_plain(block, row, block.rows, line);
}

void TableRows::take_plain(const PlainRows& block, std::size_t from, std::size_t to, std::size_t line) {
  if (from == to) return;
  if (damage_) throw damage_->error;
  if (short_row_) throw *short_row_;
  take_blank_rows();
  take_full();
  if (to - from > 1) {
    take_full();
    slower_.full += to - from - 2;
  }
  const auto append = [&](std::vector<double>& to_list, std::size_t place) {
    const auto& list = block.values[place];
    to_list.insert(to_list.end(), list.begin() + static_cast<std::ptrdiff_t>(from),
                   list.begin() + static_cast<std::ptrdiff_t>(to));
  };
  if (chosen_.voltage) append(capture_.voltage_v, 1);
  if (chosen_.current) append(capture_.current_a, 2);
  if (!chosen_.time) return;
  const double to_seconds = factor(chosen_.time);
  for (std::size_t k = from; k < to; ++k) stamps_.add(block.values[0][k] * to_seconds, line++);
}

void TableRows::take_line(std::string_view text, std::size_t line) {
  const bool behind_blank = std::exchange(behind_blank_, text.empty());
  if (text.empty()) {
    ++blank_since_sample_;
    return;
  }
  if (damage_ && damage_->behind_table) {
    ++damage_->lines;  // rows of samples among them are never taken by this way, but end in the refusal
    if (looks_like_samples(text)) throw damage_->error;
    return;
  }
  if (damage_) throw damage_->error;
  if (is_comment(text, layout_.dialect)) return;
  take_row(text, line);
  if (damage_) damage_->behind_table = behind_blank && !damage_->cut_short;
}

// All chosen cells are numbers.
bool TableRows::looks_like_samples(std::string_view text) {
  split_row(text, layout_.dialect, cells_);
  for (const auto& column : {chosen_.time, chosen_.voltage, chosen_.current}) {
    if (column && measured(column).kind != CellKind::number) return false;
  }
  return true;
}

std::string_view TableRows::cell(std::optional<std::size_t> column) const {
  return column && *column < cells_.size() ? cells_[*column] : std::string_view{};
}

double TableRows::factor(std::optional<std::size_t> column) const {
  const Unit& meaning = layout_.columns[*column].meaning;
  if (column == chosen_.time && meaning.quantity != Quantity::time) return 1.0;
  return meaning.factor;
}

// In the unit of the column, whose factor is taken in at the end.
MeasuredCell TableRows::measured(std::optional<std::size_t> column) const {
  MeasuredCell found = parse_measured(cell(column), layout_.dialect.decimal);
  if (found.has_unit) found.value /= factor(column);
  return found;
}

Error TableRows::fault(std::size_t line, std::size_t column, std::string message, std::string remedy) const {
  return Error(ErrorCode::input_refused, std::move(message),
               Place{.file = file_, .line = line, .column = column_label(layout_, column)}, std::move(remedy));
}

Error TableRows::empty_cell(std::size_t line, std::size_t column) const {
  return fault(line, column, "a number was expected, the cell is empty", "Correct or remove the line.");
}

void TableRows::refuse_when_more_follows(Error error, bool cut_short) {
  const std::size_t line = *error.place().line;
  damage_.emplace(Damage{std::move(error), line, cut_short});
}

void TableRows::take_blank_rows() {
  const std::size_t blank = std::exchange(blank_since_sample_, 0);
  if (std::max(capture_.voltage_v.size(), capture_.current_a.size()) > 0) blank_rows_ += blank;
}

// A number too many has torn another one in two, or hides that one is missing; text at the end is a remark.
std::optional<Error> TableRows::wrong_number_of_cells(std::string_view text, std::size_t line) const {
  const auto wrong = [&](std::string message, std::string remedy) {
    return Error(ErrorCode::input_refused, std::move(message), Place{.file = file_, .line = line}, std::move(remedy));
  };
  if (cells_.empty()) {
    return wrong(
        fmt::format("the cells of \"{}\" can be put together to {} numbers with decimal commas in no way, or in "
                    "more than one",
                    shown(text), layout_.dialect.pairs.values),
        "Export it with semicolons or tabs between the cells, or with decimal points.");
  }
  const std::size_t filled = filled_cells(cells_);
  const auto is_number = [&](std::string_view cell) {
    return parse_measured(cell, layout_.dialect.decimal).kind == CellKind::number;
  };
  const bool too_many =
      filled > shape_.most_cells &&
      std::any_of(cells_.begin() + static_cast<std::ptrdiff_t>(shape_.most_cells), cells_.end(), is_number);
  if (!too_many && filled >= shape_.fewest_cells) return std::nullopt;
  return wrong(fmt::format("the row \"{}\" has {} cells, other rows have {}", shown(text), filled,
                           too_many ? shape_.most_cells : shape_.fewest_cells),
               "Correct or remove the line. Where the same sign separates cells and decimals, export it with another "
               "separator (semicolon or tab).");
}

// Times of the day go on behind midnight.
std::optional<double> TableRows::time_of_day(std::string_view text) {
  const auto clock = parse_clock(text);
  if (!clock) return std::nullopt;
  constexpr double day_s = 86400.0;
  if (last_time_of_day_s_ && *clock < *last_time_of_day_s_ - 0.5 * day_s) days_s_ += day_s;
  last_time_of_day_s_ = clock;
  return *clock + days_s_;
}

void TableRows::take_full() {
  if (slower_.full++ > 0) {
    if (!slower_.between) slower_.between = slower_.since_full;
    if (slower_.since_full != *slower_.between) throw empty_cell(slower_.line, slower_.column);
  }
  slower_.since_full = 0;
}

// True: a row of the faster column alone, as they come regularly.
bool TableRows::take_slower(const MeasuredCell& voltage, const MeasuredCell& current, std::size_t line) {
  const bool no_voltage = chosen_.voltage && voltage.kind == CellKind::empty;
  const bool no_current = chosen_.current && current.kind == CellKind::empty;
  if (!no_voltage && !no_current) return false;
  if (slower_.between && slower_.since_full >= *slower_.between) return false;
  ++slower_.since_full;
  ++slower_.rows;
  slower_.line = line;
  slower_.column = no_voltage ? *chosen_.voltage : *chosen_.current;
  return true;
}

void TableRows::take_row(std::string_view text, std::size_t line) {
  split_row(text, layout_.dialect, cells_);
  if (cells_.empty()) return refuse_when_more_follows(*wrong_number_of_cells(text, line), false);
  const MeasuredCell voltage = measured(chosen_.voltage);
  const MeasuredCell current = measured(chosen_.current);
  if (voltage.kind == CellKind::empty && current.kind == CellKind::empty) {
    ++skipped_;
    ++blank_since_sample_;
    return;
  }
  MeasuredCell time{CellKind::number, 0.0};
  if (chosen_.time) {
    time = measured(chosen_.time);
    if (time.kind == CellKind::text) {
      if (const auto clock = time_of_day(cell(chosen_.time))) {
        time = {CellKind::number, *clock / factor(chosen_.time)};
      }
    }
  }
  if (time.kind == CellKind::number && voltage.kind != CellKind::text && current.kind != CellKind::text &&
      voltage.kind != CellKind::overload && current.kind != CellKind::overload && take_slower(voltage, current, line)) {
    return;
  }
  for (const auto& [column, found] :
       {std::pair{chosen_.time, time}, std::pair{chosen_.voltage, voltage}, std::pair{chosen_.current, current}}) {
    if (!column || found.kind == CellKind::number) continue;
    // Of a channel it is a clipped sample; without its time nothing can be said of it.
    if (found.kind == CellKind::overload && column != chosen_.time) continue;
    const std::string wrong = shown(cell(column));
    if (found.kind == CellKind::overload) {
      throw fault(line, *column, "\"" + wrong + "\" is no time", "Correct or remove the line.");
    }
    if (found.kind == CellKind::empty) return refuse_when_more_follows(empty_cell(line, *column), true);
    if (std::find(head_.begin(), head_.end(), text) != head_.end()) {  // another stretch, under the same header
      const std::size_t samples = std::max(capture_.voltage_v.size(), capture_.current_a.size());
      if (begins_.empty() || begins_.back() != samples) begins_.push_back(samples);
      return;
    }
    return refuse_when_more_follows(
        fault(line, *column, "a number was expected, found \"" + wrong + "\"", "Correct or remove the line."), false);
  }
  auto wrong = wrong_number_of_cells(text, line);
  if (wrong && filled_cells(cells_) > shape_.most_cells) return refuse_when_more_follows(std::move(*wrong), false);
  if (short_row_ && !wrong) throw *short_row_;
  if (wrong && !short_row_) short_row_ = std::move(wrong);
  take_blank_rows();
  take_full();
  if (chosen_.time) stamps_.add(time.value * factor(chosen_.time), line);
  const auto value = [](const MeasuredCell& read) {
    return read.kind == CellKind::overload ? lost_sample(read.value) : read.value;
  };
  if (chosen_.voltage) capture_.voltage_v.push_back(value(voltage));
  if (chosen_.current) capture_.current_a.push_back(value(current));
}

void TableRows::say_what_was_left_out() {
  if (skipped_ > 0) {
    capture_.notes.push_back({"rows_skipped", Severity::note,
                              fmt::format("{} rows without values in the chosen columns were left out.", skipped_)});
  }
  // A blank line behind each row is how line ends come out of some conversions.
  const std::size_t samples = std::max(capture_.voltage_v.size(), capture_.current_a.size());
  if (!chosen_.time && blank_rows_ > 0 && blank_rows_ + 1 < samples) {
    capture_.notes.push_back(
        {"blank_rows",
         Severity::warning,
         fmt::format("{} blank rows stand among the samples, and no time column says when those were taken: if each is "
                     "a lost sample, the record is shorter than it was and its frequency reads too high. Export it "
                     "with its time column.",
                     blank_rows_),
         {{"rows", static_cast<double>(blank_rows_)}}});
  }
  if (slower_.rows == 0) return;
  capture_.notes.push_back(
      {"slow_column", Severity::warning,
       fmt::format("Column {} has a value in one row of {} only; the {} rows without one were left out. Record both "
                   "channels at one rate.",
                   column_label(layout_, slower_.column), slower_.between.value_or(0) + 1, slower_.rows)});
}

Capture TableRows::finish(bool ends_with_newline, std::optional<double> interval_s, std::optional<int> segment) {
  if (damage_) {
    if (!damage_->cut_short && !damage_->behind_table && ends_with_newline) throw damage_->error;
  }
  if (damage_ && damage_->behind_table) {
    capture_.notes.push_back(
        {"rows_skipped", Severity::note,
         fmt::format("{} lines behind the table, from line {} on, are no samples and were left out.", damage_->lines,
                     damage_->line)});
  } else if (damage_) {
    capture_.notes.push_back({"truncated_last_line", Severity::note,
                              fmt::format("Line {}, the last one, is cut short and was left out.", damage_->line)});
  }
  if (slower_.rows > 0 && !slower_.between) throw empty_cell(slower_.line, slower_.column);
  const auto require_enough = [&] {
    const std::size_t samples = std::max(capture_.voltage_v.size(), capture_.current_a.size());
    if (samples >= fewest_samples) return;
    throw Error(ErrorCode::input_refused, fmt::format("holds {} samples, fewer than {}", samples, fewest_samples),
                Place{.file = file_}, "Export the whole record.");
  };
  require_enough();
  keep_segment(segment, begins_, stamps_, capture_);
  if (chosen_.time) {
    const StatedClock stated{layout_.start_time_s, layout_.sample_interval_s};
    const StampUnit unit{factor(chosen_.time), slower_.between.value_or(0) + 1};
    if (!take_stated_interval(stamps_, stated, unit, capture_)) {
      make_uniform(std::exchange(stamps_, {}), stated, capture_);
      compare_with_stated(stated, unit, capture_);
    }
    require_enough();
  } else {
    capture_.start_time_s = layout_.start_time_s.value_or(0.0);
    capture_.sample_interval_s = *interval_s * static_cast<double>(slower_.between.value_or(0) + 1);
  }
  const auto to_si = [&](std::optional<std::size_t> column, std::vector<double>& values) {
    if (!column || factor(column) == 1.0) return;
    for (double& value : values) value *= factor(column);
  };
  to_si(chosen_.voltage, capture_.voltage_v);
  to_si(chosen_.current, capture_.current_a);
  for (const auto& [quantity, column] : {std::pair{"time", chosen_.time}, std::pair{"voltage", chosen_.voltage},
                                         std::pair{"current", chosen_.current}}) {
    if (column) capture_.form.columns.push_back({quantity, column_label(layout_, *column), factor(column)});
  }
  say_what_was_left_out();
  return std::move(capture_);
}

}  // namespace lampload
