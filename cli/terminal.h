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

 private:
  std::vector<std::string> headings_;
  std::vector<std::vector<std::string>> rows_;
};

/// One output stream. Everything written passes printable().
class Screen {
 public:
  explicit Screen(std::FILE* stream);
  void line(std::string_view text = {}, Style style = Style::plain);
  /// Wrapped at words to the width, every line indented.
  void paragraph(std::string_view text, std::size_t indent = 0, Style style = Style::plain);
  void table(const Table& table, std::size_t indent = 0);

 private:
  void put(std::string_view text, Style style);

  std::FILE* stream_;
  std::size_t width_;
  bool colour_;
};

/// A share done on standard error, shown only on a terminal and only for work that takes more than a second.
class Progress {
 public:
  Progress(std::string what, bool quiet);
  ~Progress();
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;
  void show(double share);

 private:
  std::string what_;
  bool wanted_;
  bool shown_ = false;
  std::chrono::steady_clock::time_point begin_ = std::chrono::steady_clock::now();
};

/// Asks on a terminal; elsewhere `yes` must have been given. Throws Error{usage} where nobody can answer.
bool confirmed(const std::string& question, bool yes);

}  // namespace lampload
