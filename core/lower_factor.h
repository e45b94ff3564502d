#pragma once
// The lower triangle L of a covariance L L', row by row: Cholesky's factor (any textbook on linear algebra).

#include <span>
#include <vector>

namespace lampload {

struct LowerFactor {
  std::vector<double> rows;  ///< side x side; what has no variance of its own keeps an empty column
  bool positive = true;  ///< false: no quantities vary so (the matrix is not positive semidefinite but for rounding)
};

/// matrix: symmetric, side x side, row by row. rounding: share of a variance that counts as none.
LowerFactor lower_factor(std::span<const double> matrix, std::size_t side, double rounding = 1e-12);

}  // namespace lampload
