#include "cli/terminal.h"

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <iostream>
#include <numeric>
#include <optional>
#include <utility>

#include "core/error.h"
#include "core/unicode.h"

namespace lampload {
namespace {

constexpr std::size_t gap = 2;         // between columns
constexpr std::size_t narrowest = 12;  // a column is not wrapped below this

std::size_t terminal_width(std::FILE* stream) {
  constexpr std::size_t usual = 100;
  if (const char* columns = std::getenv("COLUMNS")) {
    std::size_t width = 0;
    const auto [end, error] = std::from_chars(columns, columns + std::strlen(columns), width);
    if (error == std::errc() && *end == '\0' && width >= 40) return width;
  }
  winsize size{};
  if (isatty(fileno(stream)) == 1 && ioctl(fileno(stream), TIOCGWINSZ, &size) == 0 && size.ws_col >= 40) {
    return size.ws_col;
  }
  return usual;
}

bool wants_colour(std::FILE* stream) {
  const char* no_colour = std::getenv("NO_COLOR");
  const char* terminal = std::getenv("TERM");
  return isatty(fileno(stream)) == 1 && (no_colour == nullptr || *no_colour == '\0') &&
         (terminal == nullptr || std::string_view(terminal) != "dumb");
}

std::string_view colour_code(Style style) {
  switch (style) {
    case Style::heading:
      return "\x1b[1m";
    case Style::good:
      return "\x1b[32m";
    case Style::warning:
      return "\x1b[33m";
    case Style::bad:
      return "\x1b[31m";
    case Style::plain:
      break;
  }
  return {};
}

std::size_t shown_width(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

/// Bytes of the longest beginning of `word` that is at most `width` characters wide.
std::size_t bytes_within(std::string_view word, std::size_t width) {
  std::size_t bytes = 0;
  for (std::size_t shown = 0; bytes < word.size(); ++bytes) {
    const bool starts_character = (static_cast<unsigned char>(word[bytes]) & 0xC0U) != 0x80U;
    if (starts_character && ++shown > width) break;
  }
  return bytes;
}

std::size_t longest_word(std::string_view text) {
  std::size_t longest = 0;
  for (std::size_t start = 0; start < text.size();) {
    const std::size_t end = std::min(text.find(' ', start), text.size());
    longest = std::max(longest, shown_width(text.substr(start, end - start)));
    start = end + 1;
  }
  return longest;
}

/// At blanks; words wider than a whole line are cut.
std::vector<std::string> wrapped(std::string_view text, std::size_t width) {
  std::vector<std::string> lines = {""};
  std::size_t start = 0;
  while (start < text.size()) {
    const std::size_t end = std::min(text.find(' ', start), text.size());
    std::string_view word = text.substr(start, end - start);
    if (!lines.back().empty() && shown_width(lines.back()) + 1 + shown_width(word) > width) lines.emplace_back();
    if (!lines.back().empty()) lines.back() += ' ';
    while (shown_width(word) > width) {
      lines.back() += word.substr(0, bytes_within(word, width));
      word.remove_prefix(bytes_within(word, width));
      lines.emplace_back();
    }
    lines.back() += word;
    start = end + 1;
  }
  return lines;
}

}  // namespace

std::string printable(std::string_view text) {
  std::string shown;
  while (!text.empty()) {
    const auto [length, point] = first_character(text);
    if (length == 0 || (length == 1 && is_control(point))) {
      shown += fmt::format("\\x{:02x}", static_cast<unsigned char>(text[0]));
    } else if (is_control(point) || changes_direction(point)) {
      shown += fmt::format("\\u{{{:04x}}}", static_cast<unsigned>(point));
    } else {
      shown += text.substr(0, length);
    }
    text.remove_prefix(std::max<std::size_t>(length, 1));
  }
  return shown;
}

void Table::add(std::vector<std::string> cells) {
  cells.resize(headings_.size());
  for (std::string& cell : cells) cell = printable(cell);
  rows_.push_back(std::move(cells));
}

std::vector<std::string> Table::lines(std::size_t width) const {
  std::vector<std::size_t> widths(headings_.size());
  std::vector<std::vector<std::string>> all = rows_;
  const bool headed = std::any_of(headings_.begin(), headings_.end(), [](const auto& text) { return !text.empty(); });
  if (headed) all.insert(all.begin(), headings_);
  for (const auto& row : all) {
    for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], shown_width(row[i]));
  }
  // The widest column gives way first, until the row fits or every column is at its narrowest.
  const auto total = [&] { return std::accumulate(widths.begin(), widths.end(), gap * (widths.size() - 1)); };
  // Words that stay whole where others can be wrapped: a time, a name, not a digest.
  constexpr std::size_t kept_whole = 24;
  std::vector<std::size_t> words(widths.size());
  for (const auto& row : all) {
    for (std::size_t i = 0; i < row.size(); ++i) {
      const std::size_t longest = longest_word(row[i]);
      if (longest <= kept_whole) words[i] = std::max(words[i], longest);
    }
  }
  while (total() > width) {
    std::optional<std::size_t> widest;
    for (std::size_t i = 0; i < widths.size(); ++i) {
      if (widths[i] > std::max(words[i], narrowest) && (!widest || widths[i] > widths[*widest])) widest = i;
    }
    if (!widest) break;
    --widths[*widest];
  }
  while (total() > width) {
    const auto widest = std::max_element(widths.begin(), widths.end());
    if (*widest <= narrowest) break;
    --*widest;
  }
  std::vector<std::string> text;
  for (const auto& row : all) {
    std::vector<std::vector<std::string>> cells;
    std::size_t height = 1;
    for (std::size_t i = 0; i < row.size(); ++i) {
      cells.push_back(wrapped(row[i], widths[i]));
      height = std::max(height, cells.back().size());
    }
    for (std::size_t k = 0; k < height; ++k) {
      std::string line;
      std::size_t column = 0;
      for (std::size_t i = 0; i < cells.size(); ++i) {
        const std::string cell = k < cells[i].size() ? cells[i][k] : "";
        const std::size_t used = shown_width(line);
        if (!cell.empty()) line += std::string(column > used ? column - used : 0, ' ') + cell;
        column += widths[i] + gap;
      }
      text.push_back(std::move(line));
    }
  }
  return text;
}

Screen::Screen(std::FILE* stream) : stream_(stream), width_(terminal_width(stream)), colour_(wants_colour(stream)) {}

void Screen::put(std::string_view text, Style style) {
  const std::string_view code = colour_ ? colour_code(style) : std::string_view{};
  fmt::print(stream_, "{}{}{}\n", code, text, code.empty() ? "" : "\x1b[0m");
}

void Screen::show_line(std::string_view text, Style style) { put(printable(text), style); }

void Screen::show_paragraph(std::string_view text, std::size_t indent, Style style) {
  for (const std::string& part : wrapped(printable(text), width_ - indent)) put(std::string(indent, ' ') + part, style);
}

void Screen::show_table(const Table& table, std::size_t indent) {
  for (const std::string& text : table.lines(width_ - indent)) put(std::string(indent, ' ') + text, Style::plain);
}

std::string remaining_in_words(double share, double elapsed_s) {
  constexpr double least_share = 0.05;
  if (!(share >= least_share) || share >= 1.0) return {};
  const double left_s = elapsed_s * (1.0 - share) / share;
  constexpr double minute_s = 60.0;
  if (left_s < 2.0 * minute_s) return fmt::format("about {:.0f} s left", std::ceil(left_s));
  return fmt::format("about {:.0f} min left", std::ceil(left_s / minute_s));
}

Progress::Progress(std::string what, Telling telling)
    : what_(std::move(what)), telling_(telling), wanted_(telling != Telling::nothing && isatty(STDERR_FILENO) == 1) {}

Progress::~Progress() {
  const std::chrono::duration<double> elapsed = std::chrono::steady_clock::now() - begin_;
  note(fmt::format("took {:.2f} s", elapsed.count()));
  wipe();
}

void Progress::wipe() {
  if (shown_) fmt::print(stderr, "\r\x1b[K");
  shown_ = false;
}

void Progress::note(const std::string& text) {
  if (telling_ != Telling::everything) return;
  wipe();
  fmt::print(stderr, "{}: {}\n", what_, printable(text));
}

void Progress::show(double share) {
  const std::chrono::duration<double> elapsed = std::chrono::steady_clock::now() - begin_;
  if (!wanted_ || elapsed < std::chrono::seconds(1)) return;
  shown_ = true;
  const std::string left = remaining_in_words(share, elapsed.count());
  fmt::print(stderr, "\r\x1b[K{} {:3.0f} %{}{}", what_, 100.0 * std::clamp(share, 0.0, 1.0), left.empty() ? "" : ", ",
             left);
  std::fflush(stderr);
}

bool confirmed(const std::string& question, bool yes) {
  if (yes) return true;
  if (isatty(STDIN_FILENO) != 1 || isatty(STDERR_FILENO) != 1) {
    throw Error(ErrorCode::usage, "nobody can be asked here, and --yes was not given", Place{},
                "Give --yes to remove without a question");
  }
  fmt::print(stderr, "{} [y/N] ", printable(question));
  std::string answer;
  std::getline(std::cin, answer);
  return answer == "y" || answer == "Y" || answer == "yes";
}

}  // namespace lampload
