#pragma once
// Information and covariance matrices of a fit.

#include <Eigen/Core>

namespace lampload {

/// Inverse of a symmetric positive definite matrix, scaled to a unit diagonal first: parameters have units of many
/// sizes.
Eigen::MatrixXd inverse_of(const Eigen::MatrixXd& matrix);

}  // namespace lampload
