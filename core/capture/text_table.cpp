#include "core/capture/text_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstring>
#include <optional>
#include <utility>

#include "core/capture/lost_samples.h"
#include "core/capture/text_encoding.h"
#include "core/capture/text_lines.h"
#include "core/capture/time_base.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr std::size_t kHeadLines = 512;
constexpr double largest_plain = 1e30;  // beyond: what instruments write for no value

std::string shown(std::string_view text) { return std::string(text.substr(0, 60)); }

// Reads the rows of one file into a capture; a channel that is not wanted stays empty.
class TableReader {
 public:
  TableReader(const std::string& path, const CaptureOptions& options, Channels channels)
      : path_(path), options_(options), lines_(path) {
    while (head_.size() < kHeadLines) {
      const auto line = lines_.next();
      if (!line) break;
      head_.emplace_back(*line);
    }
    layout_ = detect_layout(path, head_);
    chosen_ = choose_columns(path, layout_, options, channels);
    if (options.sample_interval_s) chosen_.time.reset();
    interval_s_ = options.sample_interval_s ? options.sample_interval_s : layout_.sample_interval_s;
    if (!chosen_.time && !interval_s_) {
      throw Error(ErrorCode::input_refused, "there is no time column and no sample interval", Place{.file = path},
                  "Name the time column with --time-column or give --sample-interval.");
    }
    std::size_t place = 0;
    for (const auto& column : {chosen_.time, chosen_.voltage, chosen_.current}) {
      if (column) wanted_.push_back({*column, place});
      ++place;
    }
    std::sort(wanted_.begin(), wanted_.end(), [](const Wanted& a, const Wanted& b) { return a.column < b.column; });
    capture_.file = path;
  }

  Capture read() {
    reserve();
    std::optional<std::string_view> line;
    position_ = layout_.first_row - 1;
    const Dialect& dialect = layout_.dialect;
    const bool plain = dialect.decimal == '.' && dialect.separator != ' ' && dialect.join == Dialect::Join::none;
    while ((line = next_line())) {
      if (plain && take_plain_row(*line)) continue;
      if (is_comment(*line, layout_.dialect)) continue;
      if (!take_row(*line)) break;
    }
    if (std::max(capture_.voltage_v.size(), capture_.current_a.size()) < fewest_samples) {
      throw Error(ErrorCode::input_refused,
                  fmt::format("holds {} samples, fewer than {}",
                              std::max(capture_.voltage_v.size(), capture_.current_a.size()), fewest_samples),
                  Place{.file = path_}, "Export the whole record.");
    }
    finish();
    return std::move(capture_);
  }

 private:
  void reserve() {
    const double rows = 1.02 * static_cast<double>(lines_.bytes()) / layout_.row_bytes + 16.0;
    const auto count = static_cast<std::size_t>(rows);
    if (chosen_.voltage) capture_.voltage_v.reserve(count);
    if (chosen_.current) capture_.current_a.reserve(count);
    if (chosen_.time) stamps_.time_s.reserve(count);
  }

  std::optional<std::string_view> next_line() {
    if (position_ < head_.size()) {
      line_ = position_ + 1;
      return head_[position_++];
    }
    const auto line = lines_.next();
    line_ = lines_.line();
    return line;
  }

  std::string_view cell(std::optional<std::size_t> column) const {
    return column && *column < cells_.size() ? cells_[*column] : std::string_view{};
  }

  [[noreturn]] void refuse(std::size_t column, std::string message, std::string remedy) const {
    throw Error(ErrorCode::input_refused, std::move(message),
                Place{.file = path_, .line = line_, .column = column_label(layout_, column)}, std::move(remedy));
  }

  // A row that cannot be read is forgiven where the file simply stops: in an empty cell, or without a line end.
  bool stops_here(CellKind found) {
    const std::size_t at = line_;
    while (const auto line = next_line()) {
      if (!line->empty()) {
        line_ = at;
        return false;
      }
    }
    line_ = at;
    if (found != CellKind::empty && lines_.ends_with_newline()) return false;
    capture_.notes.push_back({"truncated_last_line", Severity::note,
                              fmt::format("Line {}, the last one, is cut short and was left out.", at)});
    return true;
  }

  /// The chosen columns, from left to right.
  struct Wanted {
    std::size_t column;
    std::size_t place;  ///< time, voltage, current
  };

  // The usual row, whose chosen cells are plain numbers, without a list of its cells. False: it has to be looked at
  // closer.
  bool take_plain_row(std::string_view line) {
    const char separator = layout_.dialect.separator;
    const char* at = line.data();
    const char* const end = at + line.size();
    if (std::memchr(at, '"', line.size()) != nullptr) return false;
    std::array<double, 3> found{};
    std::size_t column = 0;
    for (const Wanted& wanted : wanted_) {
      for (; column < wanted.column; ++column) {
        at = static_cast<const char*>(std::memchr(at, separator, static_cast<std::size_t>(end - at)));
        if (at == nullptr) return false;
        ++at;
      }
      while (at < end && *at == ' ') ++at;
      double value = 0.0;
      const auto [behind, failure] = std::from_chars(at, end, value);
      if (failure != std::errc{} || !(std::abs(value) < largest_plain)) return false;
      at = behind;
      while (at < end && *at == ' ') ++at;
      if (at < end && *at != separator) return false;
      found[wanted.place] = value;
    }
    if (chosen_.time && !stamps_.add(found[0] * time_factor(), line_)) return false;
    if (chosen_.voltage) capture_.voltage_v.push_back(found[1]);
    if (chosen_.current) capture_.current_a.push_back(found[2]);
    return true;
  }

  // False: the file ends in this (damaged) row.
  bool take_row(std::string_view line) {
    split_row(line, layout_.dialect, cells_);
    const char decimal = layout_.dialect.decimal;
    const Cell voltage = parse_cell(cell(chosen_.voltage), decimal);
    const Cell current = parse_cell(cell(chosen_.current), decimal);
    const bool no_voltage = voltage.kind == CellKind::empty;
    const bool no_current = current.kind == CellKind::empty;
    if (no_voltage && no_current) {
      ++skipped_;
      return true;
    }
    Cell time{CellKind::number, 0.0};
    if (chosen_.time) {
      const std::string_view text = cell(chosen_.time);
      time = parse_cell(text, decimal);
      if (time.kind == CellKind::text) {
        if (const auto clock = parse_clock(text)) time = {CellKind::number, *clock};
      }
    }
    for (const auto& [column, found] :
         {std::pair{chosen_.time, time}, std::pair{chosen_.voltage, voltage}, std::pair{chosen_.current, current}}) {
      if (!column || found.kind == CellKind::number) continue;
      // Of a channel it is a clipped sample; without its time nothing can be said of it.
      if (found.kind == CellKind::overload && column != chosen_.time) continue;
      const std::string text = shown(cell(column));
      if (found.kind != CellKind::overload && stops_here(found.kind)) return false;
      if (found.kind == CellKind::overload) {
        refuse(*column, "\"" + text + "\" is no time", "Correct or remove the line.");
      }
      if (found.kind == CellKind::empty)
        refuse(*column, "a number was expected, the cell is empty", "Correct or remove the line.");
      refuse(*column, "a number was expected, found \"" + text + "\"", "Correct or remove the line.");
    }
    if (chosen_.time && !stamps_.add(time.value * time_factor(), line_)) {
      refuse(*chosen_.time,
             fmt::format("time runs backwards, from {:.9g} s to {:.9g} s", stamps_.time_s.back(),
                         time.value * time_factor()),
             "Export one record, in order of time.");
    }
    const auto value = [](const Cell& read) {
      return read.kind == CellKind::overload ? lost_sample(read.value) : read.value;
    };
    if (chosen_.voltage) capture_.voltage_v.push_back(value(voltage));
    if (chosen_.current) capture_.current_a.push_back(value(current));
    return true;
  }

  [[nodiscard]] double factor(std::size_t column) const { return layout_.columns[column].meaning.factor; }
  [[nodiscard]] double time_factor() const {
    const Unit& meaning = layout_.columns[*chosen_.time].meaning;
    return meaning.quantity == Quantity::time ? meaning.factor : 1.0;
  }

  void finish() {
    if (chosen_.time) {
      make_uniform(stamps_, capture_);
    } else {
      capture_.sample_interval_s = *interval_s_;
    }
    stamps_ = {};
    for (const auto& [quantity, column] : {std::pair{"time", chosen_.time}, std::pair{"voltage", chosen_.voltage},
                                           std::pair{"current", chosen_.current}}) {
      if (column) capture_.form.columns.push_back({quantity, column_label(layout_, *column), factor(*column)});
    }
    if (!lines_.packing().empty()) {
      capture_.notes.push_back(
          {"unpacked", Severity::note,
           fmt::format("The file is packed ({}); it was read as what it holds.", lines_.packing())});
    }
    if (!lines_.encoding().empty()) {
      capture_.notes.push_back({"text_encoding", Severity::note,
                                fmt::format("The text is {}, not UTF-8; it was read as such.", lines_.encoding())});
    }
    if (chosen_.voltage && factor(*chosen_.voltage) != 1.0) {
      for (double& value : capture_.voltage_v) value *= factor(*chosen_.voltage);
    }
    if (chosen_.current && factor(*chosen_.current) != 1.0) {
      for (double& value : capture_.current_a) value *= factor(*chosen_.current);
    }
    if (skipped_ > 0) {
      capture_.notes.push_back({"rows_skipped", Severity::note,
                                fmt::format("{} rows without values in the chosen columns were left out.", skipped_)});
    }
    if (!layout_.has_header && !(options_.voltage_column && options_.current_column)) {
      capture_.notes.push_back({"no_header", Severity::note,
                                "The file names no columns; they were taken as time, voltage, current in that order."});
    }
    if (layout_.dialect.join != Dialect::Join::none) {
      capture_.notes.push_back({"decimal_comma", Severity::note,
                                "Numbers with a decimal comma in a comma-separated file were put together again."});
    }
  }

  std::string path_;
  const CaptureOptions& options_;
  TextLines lines_;
  std::vector<std::string> head_;
  std::size_t position_ = 0;
  std::size_t line_ = 0;
  Layout layout_;
  ChosenColumns chosen_;
  std::vector<Wanted> wanted_;
  std::optional<double> interval_s_;
  Stamps stamps_;
  std::size_t skipped_ = 0;
  std::vector<std::string_view> cells_;
  Capture capture_;
};

/// The whole lines of a file's beginning.
std::vector<std::string> lines_of(const FileStart& start, std::string_view encoding) {
  std::size_t given = 0;
  ToUtf8 text(encoding, [&](char* to, std::size_t size) {
    const std::size_t now = std::min(size, start.bytes.size() - given);
    std::copy_n(start.bytes.data() + given, now, to);
    given += now;
    return now;
  });
  std::string all(3 * start.bytes.size(), '\0');
  all.resize(text.read(all.data(), all.size()));
  if (all.starts_with("\xEF\xBB\xBF")) all.erase(0, 3);
  std::vector<std::string> lines;
  std::size_t from = 0;
  for (auto end = all.find('\n'); end != std::string::npos && lines.size() < kHeadLines; end = all.find('\n', from)) {
    lines.emplace_back(trimmed(std::string_view(all).substr(from, end - from)));
    from = end + 1;
  }
  if (lines.empty()) lines.push_back(all);
  return lines;
}

}  // namespace

Recognition recognise_text_table(const FileStart& start) {
  const auto encoding = text_encoding(start.bytes);
  if (!encoding) return {};
  Recognition found{Recognition::Answer::readable, 0.1, "it is text", ""};
  try {
    const Layout layout = detect_layout(start.path, lines_of(start, *encoding));
    const auto has = [&](Quantity quantity) {
      return std::any_of(layout.columns.begin(), layout.columns.end(), [&](const Column& column) {
        return column.holds_numbers && column.meaning.quantity == quantity;
      });
    };
    const bool named = has(Quantity::voltage) || has(Quantity::current);
    found.certainty = named ? 0.9 : layout.has_header ? 0.7 : 0.5;
    found.reason = fmt::format("rows of numbers from line {} on, {}", layout.first_row, in_words(layout));
  } catch (const Error&) {
    // Read all the same: the reader says where and why it fails.
    found.reason = "it is text, without rows of numbers";
  }
  return found;
}

Capture read_text_table(const std::string& path, const CaptureOptions& options, Channels channels) {
  return TableReader(path, options, channels).read();
}

}  // namespace lampload
