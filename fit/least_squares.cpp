#include "fit/least_squares.h"

#include <ceres/ceres.h>
#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

#include "core/error.h"

namespace lampload {
namespace {

using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

/// Hands the residuals to Ceres as one block over one vector of unknowns.
class Block final : public ceres::CostFunction {
 public:
  explicit Block(const Residuals& residuals) : residuals_(residuals) {
    set_num_residuals(static_cast<int>(residuals.count()));
    mutable_parameter_block_sizes()->push_back(static_cast<std::int32_t>(residuals.unknowns()));
  }

  bool Evaluate(double const* const* parameters, double* r, double** jacobians) const override {
    return residuals_.evaluate(parameters[0], r, jacobians == nullptr ? nullptr : jacobians[0]);
  }

 private:
  const Residuals& residuals_;
};

/// The same residuals with some unknowns held at the values they have in `x`.
class Held final : public Residuals {
 public:
  Held(const Residuals& all, std::vector<double> x, std::vector<std::size_t> free)
      : all_(all), x_(std::move(x)), free_(std::move(free)) {}
  [[nodiscard]] std::size_t unknowns() const override { return free_.size(); }
  [[nodiscard]] std::size_t count() const override { return all_.count(); }

  bool evaluate(const double* x, double* r, double* jacobian) const override {
    std::vector<double> full = x_;
    for (std::size_t j = 0; j < free_.size(); ++j) full[free_[j]] = x[j];
    if (jacobian == nullptr || free_.size() == x_.size()) return all_.evaluate(full.data(), r, jacobian);
    std::vector<double> wide(count() * x_.size());
    if (!all_.evaluate(full.data(), r, wide.data())) return false;
    for (std::size_t k = 0; k < count(); ++k) {
      for (std::size_t j = 0; j < free_.size(); ++j) jacobian[k * free_.size() + j] = wide[k * x_.size() + free_[j]];
    }
    return true;
  }

 private:
  const Residuals& all_;
  std::vector<double> x_;
  std::vector<std::size_t> free_;
};

Solution solve_once(const Residuals& residuals, std::vector<double> start, const Box& box,
                    const SolveOptions& options) {
  Solution solution;
  solution.x = std::move(start);
  ceres::Problem problem;
  problem.AddParameterBlock(solution.x.data(), static_cast<int>(solution.x.size()));
  problem.AddResidualBlock(new Block(residuals), nullptr, solution.x.data());  // the problem owns the block
  for (std::size_t j = 0; j < solution.x.size(); ++j) {
    problem.SetParameterLowerBound(solution.x.data(), static_cast<int>(j), box.lower[j]);
    problem.SetParameterUpperBound(solution.x.data(), static_cast<int>(j), box.upper[j]);
  }

  ceres::Solver::Options solver;
  solver.linear_solver_type = options.orthogonal ? ceres::DENSE_QR : ceres::DENSE_NORMAL_CHOLESKY;
  solver.max_num_iterations = options.max_iterations;
  solver.function_tolerance = options.function_tolerance;
  solver.parameter_tolerance = options.parameter_tolerance;
  solver.gradient_tolerance = 1e-14;
  solver.num_threads = 1;
  solver.logging_type = ceres::SILENT;
  solver.max_num_consecutive_invalid_steps = 10;
  ceres::Solver::Summary summary;
  ceres::Solve(solver, &problem, &summary);

  solution.cost = summary.final_cost;
  solution.iterations = static_cast<int>(summary.iterations.size());
  solution.usable = summary.IsSolutionUsable() && std::isfinite(summary.final_cost);
  solution.message = summary.message;
  return solution;
}

}  // namespace

Solution minimise(const Residuals& residuals, std::vector<double> start, const Box& box, const SolveOptions& options) {
  const std::size_t n = start.size();
  for (std::size_t j = 0; j < n; ++j) start[j] = std::clamp(start[j], box.lower[j], box.upper[j]);
  Solution best = solve_once(residuals, start, box, options);

  // Where an unknown runs into its bound, the solver stops short of the optimum of the others: hold it there and go on
  // with the rest.
  std::vector<bool> held(n, false);
  for (int round = 0; best.usable && round < options.bound_rounds; ++round) {
    std::vector<std::size_t> free;
    bool more = false;
    for (std::size_t j = 0; j < n; ++j) {
      const double near = 1e-6 * (box.upper[j] - box.lower[j]);
      const bool on_bound = best.x[j] - box.lower[j] < near || box.upper[j] - best.x[j] < near;
      more = more || (on_bound && !held[j]);
      held[j] = held[j] || on_bound;
      if (!held[j]) free.push_back(j);
    }
    if (!more || free.empty()) break;
    Box rest;
    std::vector<double> x;
    for (const std::size_t j : free) {
      rest.lower.push_back(box.lower[j]);
      rest.upper.push_back(box.upper[j]);
      x.push_back(best.x[j]);
    }
    const Solution reduced = solve_once(Held(residuals, best.x, free), x, rest, options);
    if (!reduced.usable || reduced.cost > best.cost) break;
    for (std::size_t j = 0; j < free.size(); ++j) best.x[free[j]] = reduced.x[j];
    best.cost = reduced.cost;
    best.iterations += reduced.iterations;
    best.message = reduced.message;
  }
  return best;
}

std::vector<double> covariance_at(const Residuals& residuals, const std::vector<double>& x,
                                  const std::vector<bool>& held, const std::vector<double>& prior_information) {
  const auto n = static_cast<Eigen::Index>(x.size());
  const auto m = static_cast<Eigen::Index>(residuals.count());
  RowMajor jacobian(m, n);
  Eigen::VectorXd r(m);
  if (!residuals.evaluate(x.data(), r.data(), jacobian.data())) {
    throw Error(ErrorCode::calculation, "the model cannot be evaluated at the solution");
  }

  std::vector<Eigen::Index> free;
  for (Eigen::Index j = 0; j < n; ++j) {
    if (!held[static_cast<std::size_t>(j)]) free.push_back(j);
  }
  const auto k = static_cast<Eigen::Index>(free.size());
  Eigen::MatrixXd stacked = Eigen::MatrixXd::Zero(m + k, k);
  for (Eigen::Index c = 0; c < k; ++c) {
    const Eigen::Index j = free[static_cast<std::size_t>(c)];
    stacked.col(c).head(m) = jacobian.col(j);
    if (!prior_information.empty()) stacked(m + c, c) = std::sqrt(prior_information[static_cast<std::size_t>(j)]);
  }
  // Columns scaled to unit length, then orthogonalised: J'J itself would lose half the digits.
  const Eigen::VectorXd length = stacked.colwise().norm().cwiseMax(std::numeric_limits<double>::min());
  stacked = stacked * length.cwiseInverse().asDiagonal();
  const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(stacked);
  if (qr.rank() < k) {
    throw Error(ErrorCode::calculation, fmt::format("{} of {} unknowns leave no trace in the data", k - qr.rank(), k));
  }
  const Eigen::MatrixXd upper = qr.matrixR().topLeftCorner(k, k).template triangularView<Eigen::Upper>();
  Eigen::MatrixXd inverse = upper.template triangularView<Eigen::Upper>().solve(Eigen::MatrixXd::Identity(k, k));
  inverse = qr.colsPermutation() * inverse;
  const Eigen::MatrixXd small =
      length.cwiseInverse().asDiagonal() * (inverse * inverse.transpose()) * length.cwiseInverse().asDiagonal();

  std::vector<double> covariance(static_cast<std::size_t>(n * n), 0.0);
  for (Eigen::Index a = 0; a < k; ++a) {
    for (Eigen::Index b = 0; b < k; ++b) {
      covariance[static_cast<std::size_t>(free[static_cast<std::size_t>(a)] * n + free[static_cast<std::size_t>(b)])] =
          small(a, b);
    }
  }
  return covariance;
}

}  // namespace lampload
