#include "core/capture/read.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <optional>
#include <utility>

#include "core/capture/conditioning.h"
#include "core/capture/layout.h"
#include "core/capture/text_lines.h"
#include "core/capture/time_base.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr std::size_t kHeadLines = 512;
constexpr std::size_t kFewestSamples = 16;

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
    capture_.file = path;
  }

  Capture read() {
    reserve();
    std::optional<std::string_view> line;
    position_ = layout_.first_row - 1;
    while ((line = next_line())) {
      if (is_comment(*line, layout_.dialect)) continue;
      if (!take_row(*line)) break;
    }
    if (std::max(capture_.voltage_v.size(), capture_.current_a.size()) < kFewestSamples) {
      throw Error(ErrorCode::input_refused,
                  fmt::format("holds {} samples, fewer than {}",
                              std::max(capture_.voltage_v.size(), capture_.current_a.size()), kFewestSamples),
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

  // A row that cannot be read is forgiven where the file simply stops.
  bool stops_here() {
    const std::size_t at = line_;
    while (const auto line = next_line()) {
      if (!line->empty()) {
        line_ = at;
        return false;
      }
    }
    capture_.notes.push_back({"truncated_last_line", Severity::note,
                              fmt::format("Line {}, the last one, is cut short and was left out.", at)});
    return true;
  }

  struct Wanted {
    std::size_t column;
    std::vector<double>* values;
  };

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
      const std::string text = shown(cell(column));
      const bool may_be_cut = found.kind == CellKind::empty || !lines_.ends_with_newline();
      if (found.kind != CellKind::overload && may_be_cut && stops_here()) return false;
      if (found.kind == CellKind::overload) {
        refuse(*column, "\"" + text + "\" stands for a value beyond the instrument's range, or for none",
               "Choose a larger range on the instrument and take the capture again.");
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
    if (chosen_.voltage) capture_.voltage_v.push_back(voltage.value);
    if (chosen_.current) capture_.current_a.push_back(current.value);
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
  std::optional<double> interval_s_;
  Stamps stamps_;
  std::size_t skipped_ = 0;
  std::vector<std::string_view> cells_;
  Capture capture_;
};

// VOLTAGE+CURRENT: two files of one measurement. The voltage part must exist for a plus sign to mean this.
std::optional<std::pair<std::string, std::string>> split_pair(const std::string& path) {
  std::error_code ignored;
  if (std::filesystem::exists(path, ignored)) return std::nullopt;
  for (auto plus = path.find('+'); plus != std::string::npos; plus = path.find('+', plus + 1)) {
    if (std::filesystem::exists(path.substr(0, plus), ignored))
      return std::pair{path.substr(0, plus), path.substr(plus + 1)};
  }
  return std::nullopt;
}

Capture join(const std::string& path, Capture voltage, Capture current) {
  const double interval = voltage.sample_interval_s;
  const double longest = static_cast<double>(std::max(voltage.voltage_v.size(), current.current_a.size()));
  if (std::abs(interval - current.sample_interval_s) * longest > 0.5 * interval) {
    throw Error(ErrorCode::input_refused,
                fmt::format("voltage and current have different sample intervals ({:.6g} s and {:.6g} s)", interval,
                            current.sample_interval_s),
                Place{.file = path}, "Export both channels of one record.");
  }
  const double late = (current.start_time_s - voltage.start_time_s) / interval;
  const double whole = std::round(late);
  if (std::abs(late - whole) > 0.1 || std::abs(whole) >= longest) {
    throw Error(ErrorCode::input_refused,
                fmt::format("voltage and current do not share a time base: they start at {:.9g} s and {:.9g} s",
                            voltage.start_time_s, current.start_time_s),
                Place{.file = path}, "Export both channels of one record.");
  }
  const auto drop_voltage = static_cast<std::ptrdiff_t>(std::max(whole, 0.0));
  const auto drop_current = static_cast<std::ptrdiff_t>(std::max(-whole, 0.0));
  const auto count = std::min(static_cast<std::ptrdiff_t>(voltage.voltage_v.size()) - drop_voltage,
                              static_cast<std::ptrdiff_t>(current.current_a.size()) - drop_current);
  if (count < static_cast<std::ptrdiff_t>(kFewestSamples)) {
    throw Error(ErrorCode::input_refused, "voltage and current hardly overlap in time", Place{.file = path},
                "Export both channels of one record.");
  }
  Capture both = std::move(voltage);
  both.file = path;
  both.start_time_s += static_cast<double>(drop_voltage) * interval;
  both.voltage_v =
      std::vector<double>(both.voltage_v.begin() + drop_voltage, both.voltage_v.begin() + drop_voltage + count);
  both.current_a.assign(current.current_a.begin() + drop_current, current.current_a.begin() + drop_current + count);
  both.notes.insert(both.notes.end(), current.notes.begin(), current.notes.end());
  return both;
}

void check_options(const CaptureOptions& options) {
  const auto usable = [](double factor) { return std::isfinite(factor) && factor != 0.0; };
  const auto refuse = [](const char* message, const char* remedy) {
    throw Error(ErrorCode::usage, message, {}, remedy);
  };
  if (!usable(options.voltage_scale) || !usable(options.current_scale)) {
    refuse("a scale must be a finite number other than zero", "Use --invert-current for a reversed clamp.");
  }
  if (!std::isfinite(options.voltage_offset_v) || !std::isfinite(options.current_offset_a) ||
      !std::isfinite(options.current_delay_s)) {
    refuse("offsets and the current delay must be finite numbers", "Give them in volts, amperes and seconds.");
  }
  if (options.sample_interval_s && !(std::isfinite(*options.sample_interval_s) && *options.sample_interval_s > 0.0)) {
    refuse("the sample interval must be above zero", "Give it in seconds, such as 2e-5.");
  }
}

}  // namespace

Capture read_capture(const std::string& path, const CaptureOptions& options) {
  check_options(options);
  Capture capture;
  if (const auto pair = split_pair(path)) {
    capture = join(path, TableReader(pair->first, options, Channels::voltage_only).read(),
                   TableReader(pair->second, options, Channels::current_only).read());
  } else {
    capture = TableReader(path, options, Channels::both).read();
  }
  condition(capture, options);
  return capture;
}

std::vector<std::string> files_of_capture(const std::string& path) {
  if (const auto pair = split_pair(path)) return {pair->first, pair->second};
  return {path};
}

}  // namespace lampload
