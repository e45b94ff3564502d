#include "core/lower_factor.h"

#include <cmath>

namespace lampload {

LowerFactor lower_factor(std::span<const double> matrix, std::size_t side, double rounding) {
  LowerFactor factor;
  std::vector<double>& lower = factor.rows;
  lower.assign(side * side, 0.0);
  for (std::size_t j = 0; j < side; ++j) {
    const double variance = matrix[j * side + j];
    double rest = variance;
    for (std::size_t k = 0; k < j; ++k) rest -= lower[j * side + k] * lower[j * side + k];
    if (rest < -rounding * variance) factor.positive = false;
    // what rounding leaves of a variance that others make up; then nothing may be left of its covariances either
    const bool own = rest > rounding * variance;
    if (own) lower[j * side + j] = std::sqrt(rest);
    for (std::size_t i = j + 1; i < side; ++i) {
      double sum = matrix[i * side + j];
      for (std::size_t k = 0; k < j; ++k) sum -= lower[i * side + k] * lower[j * side + k];
      if (own) {
        lower[i * side + j] = sum / lower[j * side + j];
      } else if (std::abs(sum) > std::sqrt(rounding * variance * matrix[i * side + i])) {
        factor.positive = false;
      }
    }
  }
  return factor;
}

}  // namespace lampload
