#pragma once
// Where a model's residuals go as they come, each with its slopes by the few unknowns it depends on: into the rows of a
// matrix over all unknowns, or straight into the sums of normal equations.

#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "fit/least_squares.h"

namespace lampload {

class ResidualRows {
 public:
  virtual ~ResidualRows() = default;
  virtual void take(double residual, std::span<const double> slopes) = 0;
};

/// Row by row into r and jacobian, which has `width` unknowns and zeros to begin with. columns: where the slopes
/// belong.
class StoredRows final : public ResidualRows {
 public:
  StoredRows(double* r, double* jacobian, std::size_t width, std::span<const std::size_t> columns)
      : r_(r), jacobian_(jacobian), width_(width), columns_(columns) {}

  void take(double residual, std::span<const double> slopes) override {
    *r_++ = residual;
    for (std::size_t j = 0; j < columns_.size(); ++j) jacobian_[columns_[j]] = slopes[j];
    jacobian_ += width_;
  }

 private:
  double* r_;
  double* jacobian_;
  std::size_t width_;
  std::span<const std::size_t> columns_;
};

/// Summed up over the unknowns that the rows depend on.
class SummedRows final : public ResidualRows {
 public:
  explicit SummedRows(std::size_t unknowns) : slopes_(tile * unknowns), sums_(unknowns) {}

  void take(double residual, std::span<const double> slopes) override;
  /// Adds what was taken to sums over all unknowns. columns: those of the rows.
  void add_to(NormalSums& all, std::span<const std::size_t> columns);

 private:
  static constexpr std::size_t tile = 64;  // rows at a time: products of matrices are faster than of rows
  void sum_up();

  std::array<double, tile> residuals_{};
  std::vector<double> slopes_;
  std::size_t taken_ = 0;
  NormalSums sums_;
};

}  // namespace lampload
