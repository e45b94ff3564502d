#pragma once
// Information and covariance matrices of a fit.

#include <Eigen/Dense>

namespace lampload {

/// Inverse of a symmetric positive definite matrix, scaled to a unit diagonal first: parameters have units of many
/// sizes.
inline Eigen::MatrixXd inverse_of(const Eigen::MatrixXd& matrix) {
  const Eigen::VectorXd scale = matrix.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
  const Eigen::MatrixXd scaled = scale.asDiagonal() * matrix * scale.asDiagonal();
  return scale.asDiagonal() * scaled.ldlt().solve(Eigen::MatrixXd::Identity(matrix.rows(), matrix.cols())) *
         scale.asDiagonal();
}

}  // namespace lampload
