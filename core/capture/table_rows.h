#pragma once
// From the rows of a text table to the samples of a capture.

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/capture/capture.h"
#include "core/capture/layout.h"
#include "core/capture/plain_rows.h"
#include "core/capture/row_shape.h"
#include "core/capture/time_base.h"
#include "core/error.h"

namespace lampload {

/// Takes rows in the order of the file. Throws Error{input_refused} with line and column for what cannot be trusted.
class TableRows {
 public:
  /// head: the lines above the table, which may come again below another stretch of it.
  TableRows(const std::string& file, const Layout& layout, const ChosenColumns& chosen, const RowShape& shape,
            std::vector<std::string> head);

  /// Room for as many rows.
  void reserve(std::size_t rows);
  /// One block, its other lines where they stand.
  void take(const PlainRows& block, std::size_t first_line);

  /// What was found, in the units of the file's columns turned to SI. interval_s counts where there is no time column.
  Capture finish(bool ends_with_newline, std::optional<double> interval_s, std::optional<int> segment);

 private:
  void take_plain(const PlainRows& block, std::size_t from, std::size_t to, std::size_t line);
  void take_line(std::string_view text, std::size_t line);
  void take_row(std::string_view text, std::size_t line);
  bool take_slower(const MeasuredCell& voltage, const MeasuredCell& current, std::size_t line);
  [[nodiscard]] bool looks_like_samples(std::string_view text);
  void take_full();
  [[nodiscard]] MeasuredCell measured(std::optional<std::size_t> column) const;
  [[nodiscard]] std::optional<double> time_of_day(std::string_view text);
  [[nodiscard]] std::string_view cell(std::optional<std::size_t> column) const;
  [[nodiscard]] double factor(std::optional<std::size_t> column) const;
  [[nodiscard]] Error fault(std::size_t line, std::size_t column, std::string message, std::string remedy) const;
  [[nodiscard]] Error empty_cell(std::size_t line, std::size_t column) const;
  void refuse_when_more_follows(Error error, bool cut_short);
  [[nodiscard]] std::optional<Error> wrong_number_of_cells(std::string_view text, std::size_t line) const;
  void take_blank_rows();
  void say_what_was_left_out();

  std::string file_;
  const Layout& layout_;
  ChosenColumns chosen_;
  RowShape shape_;
  std::vector<std::string> head_;
  Capture capture_;
  Stamps stamps_;
  std::vector<std::size_t> begins_;  ///< samples above which the header came again
  std::size_t skipped_ = 0;
  std::vector<std::string_view> cells_;

  /// A row that cannot be read is forgiven where the file simply stops in it.
  struct Damage {
    Error error;
    std::size_t line;
    bool cut_short;             ///< in an empty cell, as where the rest of the row was not written
    bool behind_table = false;  ///< below a blank line: statistics and the like, as long as no samples follow
    std::size_t lines = 1;
  };
  std::optional<Damage> damage_;
  std::optional<Error> short_row_;  ///< holds all that is wanted, but fewer cells than others: damage if those go on
  std::size_t blank_rows_ = 0;      ///< blank lines and rows without values, between samples
  std::size_t blank_since_sample_ = 0;
  bool behind_blank_ = false;

  /// Rows with one of the two values only, between rows with both: a slower column.
  struct Slower {
    std::size_t since_full = 0;
    std::size_t full = 0;
    std::optional<std::size_t> between;  ///< of them between full rows
    std::size_t rows = 0;
    std::size_t line = 0;    ///< the last one
    std::size_t column = 0;  ///< what is empty there
  };
  Slower slower_;
  double days_s_ = 0.0;  ///< midnights passed, of times of the day
  std::optional<double> last_time_of_day_s_;
};

}  // namespace lampload
