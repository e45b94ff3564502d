#include "core/capture/text_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <utility>

#include "core/capture/join.h"
#include "core/capture/layout_file.h"
#include "core/capture/layout_notes.h"
#include "core/capture/plain_rows.h"
#include "core/capture/row_shape.h"
#include "core/capture/table_rows.h"
#include "core/capture/text_encoding.h"
#include "core/capture/text_lines.h"
#include "core/capture/units.h"
#include "core/error.h"

namespace lampload {
namespace {

/// What is known of a file before its rows are read.
struct Table {
  std::string path;
  TextBlocks blocks;
  PlainRows first;  ///< the beginning, its rows not read yet
  std::vector<std::string> head;
  Layout layout;
  ChosenColumns chosen;
};

bool same_times(const Table& table, std::size_t a, std::size_t b) {
  std::vector<std::string_view> cells;
  for (std::size_t k = table.layout.first_row - 1; k < table.head.size(); ++k) {
    if (is_comment(table.head[k], table.layout.dialect)) continue;
    split_row(table.head[k], table.layout.dialect, cells);
    if (std::max(a, b) < cells.size() && cells[a] != cells[b]) return false;
  }
  return true;
}

void set_units(const WrittenLayout& written, const ChosenColumns& chosen, Layout& layout) {
  const auto set = [&](std::optional<std::size_t> column, const std::optional<std::string>& unit) {
    if (!column || !unit) return;
    layout.columns[*column].meaning = parse_unit(*unit).value();
    layout.columns[*column].unit_is_said = true;
  };
  set(chosen.time, written.time_unit);
  set(chosen.voltage, written.voltage_unit);
  set(chosen.current, written.current_unit);
}

Table open_table(const std::string& path, const CaptureOptions& options, Channels channels) {
  Table table{path, TextBlocks(path), {}, {}, {}, {}};
  table.blocks.next(table.first.block);
  table.head = first_lines(table.first.block.text(), head_lines);
  table.layout = detect_layout(path, table.head, options.layout.value_or(WrittenLayout{}));
  table.chosen = choose_columns(path, table.layout, options, channels);
  ChosenColumns& chosen = table.chosen;
  if (options.layout) set_units(*options.layout, chosen, table.layout);
  if (options.sample_interval_s) chosen.time.reset();
  if (!chosen.time || (chosen.current_time && same_times(table, *chosen.time, *chosen.current_time))) {
    chosen.current_time.reset();
  }
  return table;
}

std::vector<WantedCell> wanted_cells(const ChosenColumns& chosen) {
  std::vector<WantedCell> wanted;
  std::size_t place = 0;
  for (const auto& column : {chosen.time, chosen.voltage, chosen.current}) {
    if (column) wanted.push_back({*column, place});
    ++place;
  }
  std::sort(wanted.begin(), wanted.end(), [](const WantedCell& a, const WantedCell& b) { return a.column < b.column; });
  return wanted;
}

PlainForm plain_form(const Dialect& dialect, const RowShape& shape) {
  const bool plain = dialect.separator != ' ' && dialect.join == Dialect::Join::none;
  return {plain ? dialect.separator : '\0', dialect.decimal, shape.fewest_separators, shape.most_separators};
}

void say_how_it_was_read(const Table& table, const CaptureOptions& options, Capture& capture) {
  const auto say = [&](const char* code, std::string message) {
    capture.notes.push_back({code, Severity::note, std::move(message)});
  };
  if (!table.blocks.packing().empty()) {
    say("unpacked", fmt::format("The file is packed ({}); it was read as what it holds.", table.blocks.packing()));
  }
  if (!table.blocks.encoding().empty()) {
    say("text_encoding", fmt::format("The text is {}, not UTF-8; it was read as such.", table.blocks.encoding()));
  }
  if (!table.layout.has_header && !(options.voltage_column && options.current_column)) {
    say("no_header", "The file names no columns; they were taken as time, voltage, current in that order.");
  }
  for (QualityNote& note : layout_notes(table.head, table.layout, table.chosen, options)) {
    capture.notes.push_back(std::move(note));
  }
  if (options.layout) say("written_layout", "The file was read as the given layout says, not as it looks.");
  if (table.layout.dialect.join != Dialect::Join::none) {
    say("decimal_comma", "Numbers with a decimal comma in a comma-separated file were put together again.");
  }
}

Capture read_rows(Table table, const CaptureOptions& options) {
  const std::optional<double> interval_s =
      options.sample_interval_s ? options.sample_interval_s : table.layout.sample_interval_s;
  if (!table.chosen.time && !interval_s) {
    const std::string& clock = table.layout.unread_clock;
    throw Error(ErrorCode::input_refused,
                "there is no time column and no sample interval" +
                    (clock.empty() ? "" : "; \"" + clock.substr(0, 60) + "\" is not understood"),
                Place{.file = table.path}, "Name the time column with --time-column or give --sample-interval.");
  }
  const std::size_t first_row = table.layout.first_row;
  const RowShape shape = usual_shape(table.head, table.layout);
  TableRows rows(table.path, table.layout, table.chosen, shape,
                 {table.head.begin(), table.head.begin() + static_cast<std::ptrdiff_t>(first_row - 1)});
  rows.reserve(
      static_cast<std::size_t>(1.02 * static_cast<double>(table.blocks.file_bytes()) / table.layout.row_bytes) + 16);
  std::string_view left = table.first.block.text();
  for (std::size_t line = 1; line < first_row; ++line) take_line(left);
  const std::size_t from = table.first.block.text().size() - left.size();
  const std::vector<WantedCell> wanted = wanted_cells(table.chosen);
  bool begun = false;
  for_each_plain_rows(table.blocks, std::move(table.first), from, wanted, plain_form(table.layout.dialect, shape),
                      [&](const PlainRows& block) {
                        rows.take(block, begun ? block.block.first_line() : first_row);
                        begun = true;
                      });
  Capture capture = rows.finish(table.blocks.ends_with_newline(), interval_s, options.segment);
  say_how_it_was_read(table, options, capture);
  return capture;
}

/// The whole lines of a file's beginning.
std::vector<std::string> lines_of(const FileStart& start, std::string_view encoding) {
  std::size_t given = 0;
  ToUtf8 text(encoding, [&](char* to, std::size_t size) {
    const std::size_t now = std::min(size, start.bytes.size() - given);
    std::copy_n(start.bytes.data() + given, now, to);
    given += now;
    return now;
  });
  std::string all((encoding == "UTF-8" ? 1 : 3) * start.bytes.size(), '\0');
  all.resize(text.read(all.data(), all.size()));
  if (all.starts_with("\xEF\xBB\xBF")) all.erase(0, 3);
  if (const auto end = all.rfind('\n'); end != std::string::npos) all.resize(end + 1);
  return first_lines(all, head_lines);
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
  Table table = open_table(path, options, channels);
  if (!table.chosen.current_time) return read_rows(std::move(table), options);
  // Each channel with a time column of its own: as two files that share a clock.
  Table other = open_table(path, options, channels);
  other.chosen = {
      .time = table.chosen.current_time, .voltage = {}, .current = table.chosen.current, .current_time = {}};
  table.chosen = {.time = table.chosen.time, .voltage = table.chosen.voltage, .current = {}, .current_time = {}};
  return join_channels(path, read_rows(std::move(table), options), read_rows(std::move(other), options));
}

std::string layout_text_of(const std::string& path, const CaptureOptions& options) {
  TextBlocks blocks(path);
  TextBlock block;
  blocks.next(block);
  const std::vector<std::string> head = first_lines(block.text(), head_lines);
  const Layout layout = detect_layout(path, head, options.layout.value_or(WrittenLayout{}));
  ChosenColumns chosen;
  try {
    chosen = choose_columns(path, layout, options, Channels::both);
  } catch (const Error&) {
    // Not clear which columns are meant: the text lists them for a person to say.
  }
  return layout_file_text(layout, chosen, path);
}

}  // namespace lampload
