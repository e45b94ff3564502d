#include "fit/information.h"

#include <Eigen/Cholesky>

namespace lampload {

Eigen::MatrixXd inverse_of(const Eigen::MatrixXd& matrix) {
  const Eigen::VectorXd scale = matrix.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
  const Eigen::MatrixXd scaled = scale.asDiagonal() * matrix * scale.asDiagonal();
  return scale.asDiagonal() * scaled.ldlt().solve(Eigen::MatrixXd::Identity(matrix.rows(), matrix.cols())) *
         scale.asDiagonal();
}

}  // namespace lampload
