#include "core/capture/row_shape.h"

#include <algorithm>
#include <map>

namespace lampload {
namespace {

constexpr std::size_t rare_share = 50;  // one row in so many is an exception, not the shape of the table

using Counts = std::map<std::size_t, std::size_t>;

void keep_usual(const Counts& counts, std::size_t rows, std::size_t& fewest, std::size_t& most) {
  if (rows == 0) return;
  std::vector<std::size_t> usual;
  for (const auto& [cells, times] : counts) {
    if (times > std::max<std::size_t>(1, rows / rare_share)) usual.push_back(cells);
  }
  if (usual.empty()) return;
  fewest = usual.front();
  most = usual.back();
}

}  // namespace

std::size_t filled_cells(const std::vector<std::string_view>& cells) {
  std::size_t count = cells.size();
  while (count > 0 && trimmed(cells[count - 1]).empty()) --count;
  return count;
}

RowShape usual_shape(const std::vector<std::string>& head, const Layout& layout) {
  Counts cells;
  Counts separators;
  std::size_t rows = 0;
  std::vector<std::string_view> row;
  for (std::size_t k = layout.first_row - 1; k < head.size(); ++k) {
    if (is_comment(head[k], layout.dialect)) continue;
    split_row(head[k], layout.dialect, row);
    if (row.empty()) continue;
    ++cells[filled_cells(row)];
    ++separators[static_cast<std::size_t>(std::count(head[k].begin(), head[k].end(), layout.dialect.separator))];
    ++rows;
  }
  RowShape shape;
  keep_usual(cells, rows, shape.fewest_cells, shape.most_cells);
  keep_usual(separators, rows, shape.fewest_separators, shape.most_separators);
  return shape;
}

}  // namespace lampload
