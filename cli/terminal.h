#pragma once
// Text for people: lines, paragraphs and tables fitted to the terminal, colour only where it is wanted, progress.

#include <chrono>
#include <cstdio>
#include <string>
#include <string_view>
#include <vector>

namespace lampload {

/// Text as it can safely be shown: control and direction-changing characters and bytes that are not UTF-8 become \xNN
/// or \u{NNNN}.
std::string printable(std::string_view text);

enum class Style { plain, heading, good, warning, bad };

/// Rows of cells; columns as wide as their contents, shrunk with wrapped cells where the terminal is narrower.
class Table {
 public:
  explicit Table(std::vector<std::string> headings) : headings_(std::move(headings)) {}
  void add(std::vector<std::string> cells);
  [[nodiscard]] bool empty() const { return rows_.empty(); }
  /// Lines without a trailing newline; the headings (if any are not empty) first.
  [[nodiscard]] std::vector<std::string> lines(std::size_t width) const;
  [[nodiscard]] const std::vector<std::string>& headings() const { return headings_; }
  [[nodiscard]] const std::vector<std::vector<std::string>>& rows() const { return rows_; }

 private:
  std::vector<std::string> headings_;
  std::vector<std::vector<std::string>> rows_;
};

/// Where text for people goes: an output stream, or what is derived from it. Everything written passes printable().
class Screen {
 public:
  explicit Screen(std::FILE* stream);
  virtual ~Screen() = default;
  Screen(const Screen&) = delete;
  Screen& operator=(const Screen&) = delete;

  void line(std::string_view text = {}, Style style = Style::plain) { show_line(text, style); }
  /// Wrapped at words to the width, every line indented.
  void paragraph(std::string_view text, std::size_t indent = 0, Style style = Style::plain) {
    show_paragraph(text, indent, style);
  }
  void table(const Table& table, std::size_t indent = 0) { show_table(table, indent); }

 protected:
  Screen() = default;  // for one that is no stream

 private:
  virtual void show_line(std::string_view text, Style style);
  virtual void show_paragraph(std::string_view text, std::size_t indent, Style style);
  virtual void show_table(const Table& table, std::size_t indent);
  void put(std::string_view text, Style style);

  std::FILE* stream_ = nullptr;
  std::size_t width_ = 0;
  bool colour_ = false;
};

/// "about 12 s left", by what the share done has taken; empty while that says nothing yet.
std::string remaining_in_words(double share, double elapsed_s);

/// How much is told on standard error of work that goes on.
enum class Telling { nothing, usual, everything };

/// A share done on standard error, with the time that is left; shown only on a terminal and only for work that takes
/// more than a second.
class Progress {
 public:
  Progress(std::string what, Telling telling);
  ~Progress();
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;
  void show(double share);
  /// A line that stays, where everything is to be told.
  void note(const std::string& text);

 private:
  void wipe();

  std::string what_;
  Telling telling_;
  bool wanted_;
  bool shown_ = false;
  std::chrono::steady_clock::time_point begin_ = std::chrono::steady_clock::now();
};

/// Asks on a terminal; elsewhere `yes` must have been given. Throws Error{usage} where nobody can answer.
bool confirmed(const std::string& question, bool yes);

}  // namespace lampload
