#include "core/capture/dc_table.h"

#include <fmt/format.h>

#include <array>
#include <optional>
#include <string_view>

#include "core/capture/layout.h"
#include "core/capture/quantity.h"
#include "core/capture/text_lines.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr std::array<std::string_view, 3> names = {"voltage_v", "current_a", "uncertainty"};
constexpr std::size_t most_points = 1000;  // more is a capture, not a table taken by hand
const char* const header_remedy =
    "Begin the table with a line 'voltage_v,current_a' or 'voltage_v,current_a,uncertainty'.";

/// Place of each of `names` in a row.
using Order = std::array<std::optional<std::size_t>, names.size()>;

Order read_header(const std::vector<std::string_view>& cells, const Place& place) {
  Order order;
  for (std::size_t k = 0; k < cells.size(); ++k) {
    const std::string_view name = unquoted(cells[k]);
    std::size_t which = 0;
    while (which < names.size() && names[which] != name) ++which;
    Place here = place;
    here.column = std::to_string(k + 1);
    if (which == names.size()) {
      throw Error(ErrorCode::input_refused,
                  fmt::format("'{}' is no column of a DC table; voltage_v, current_a or uncertainty was expected",
                              name.substr(0, 60)),
                  here, header_remedy);
    }
    if (order[which]) {
      throw Error(ErrorCode::input_refused, fmt::format("the column {} is there twice", names[which]), here,
                  header_remedy);
    }
    order[which] = k;
  }
  for (std::size_t which = 0; which < 2; ++which) {
    if (!order[which]) {
      throw Error(ErrorCode::input_refused, fmt::format("the header names no column {}", names[which]), place,
                  header_remedy);
    }
  }
  return order;
}

class Row {
 public:
  Row(const std::vector<std::string_view>& cells, const Order& order, const Place& place)
      : cells_(cells), order_(order), place_(place) {}

  [[nodiscard]] double number(std::size_t which) const {
    const std::string_view text = cell(which);
    const Cell read = parse_cell(text, '.');
    if (read.kind == CellKind::number) return read.value;
    refuse(which,
           text.empty() ? "a number was expected, the cell is empty"
                        : fmt::format("a number was expected, found '{}'", text.substr(0, 60)),
           "Correct or remove the line; decimals have a point.");
  }
  [[nodiscard]] std::optional<double> number_if_any(std::size_t which) const {
    if (!order_[which] || cell(which).empty()) return std::nullopt;
    return number(which);
  }
  [[noreturn]] void refuse(std::size_t which, std::string message, std::string remedy) const {
    Place here = place_;
    here.column = names[which];
    throw Error(ErrorCode::input_refused, std::move(message), here, std::move(remedy));
  }

 private:
  [[nodiscard]] std::string_view cell(std::size_t which) const {
    const std::size_t at = *order_[which];
    return at < cells_.size() ? unquoted(cells_[at]) : std::string_view{};
  }

  const std::vector<std::string_view>& cells_;
  const Order& order_;
  const Place& place_;
};

DcPoint read_point(const Row& row) {
  DcPoint point{row.number(0), row.number(1), row.number_if_any(2)};
  if (point.voltage_v * point.current_a < 0.0) {
    row.refuse(1, "the lamp would give power back: voltage and current must have the same sign",
               "Correct the sign, or the column.");
  }
  if (point.uncertainty_a && !(*point.uncertainty_a > 0.0)) {
    row.refuse(2, "an uncertainty above zero was expected", "Leave the cell empty where it is not known.");
  }
  return point;
}

}  // namespace

std::vector<DcPoint> read_dc_table(const std::string& file) {
  TextLines lines(file);
  const Dialect dialect;
  std::vector<std::string_view> cells;
  std::optional<Order> order;
  std::size_t columns = 0;
  std::vector<DcPoint> points;
  while (const auto line = lines.next()) {
    if (line->empty() || line->front() == '#') continue;
    const Place place{.file = file, .line = lines.line()};
    split_row(*line, dialect, cells);
    if (!order) {
      order = read_header(cells, place);
      columns = cells.size();
      continue;
    }
    if (cells.size() > columns) {
      throw Error(ErrorCode::input_refused, fmt::format("{} cells, at most {} were expected", cells.size(), columns),
                  place, "Correct or remove the line; decimals have a point.");
    }
    if (points.size() == most_points) {
      throw Error(ErrorCode::input_refused,
                  fmt::format("more than {} points are no table of steady points", most_points), place,
                  "Import a record as a capture instead.");
    }
    points.push_back(read_point(Row(cells, *order, place)));
  }
  if (points.empty()) {
    throw Error(ErrorCode::input_refused, "the table holds no point", Place{.file = file}, header_remedy);
  }
  return points;
}

}  // namespace lampload
