#include "fit/residual_rows.h"

#include <algorithm>

namespace lampload {

void SummedRows::take(double residual, std::span<const double> slopes) {
  residuals_[taken_] = residual;
  std::copy(slopes.begin(), slopes.end(), slopes_.begin() + static_cast<std::ptrdiff_t>(taken_ * slopes.size()));
  if (++taken_ == tile) sum_up();
}

void SummedRows::sum_up() {
  sums_.add(residuals_.data(), slopes_.data(), taken_);
  taken_ = 0;
}

void SummedRows::add_to(NormalSums& all, std::span<const std::size_t> columns) {
  sum_up();
  const std::size_t n = columns.size();
  all.square += sums_.square;
  for (std::size_t a = 0; a < n; ++a) {
    all.gradient[columns[a]] += sums_.gradient[a];
    for (std::size_t b = 0; b < n; ++b)
      all.products[columns[a] * all.gradient.size() + columns[b]] += sums_.products[a * n + b];
  }
}

}  // namespace lampload
