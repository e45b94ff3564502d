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

/// Few residuals in the place of many: with the same sum of squares, J'J and J'r, so that normal equations take the
/// same steps. Remembers the last point: the solver asks for one point up to three times.
class Condensed final : public ceres::CostFunction {
 public:
  explicit Condensed(const Residuals& residuals) : residuals_(residuals), n_(residuals.unknowns()) {
    set_num_residuals(static_cast<int>(n_ + 1));
    mutable_parameter_block_sizes()->push_back(static_cast<std::int32_t>(n_));
  }

  bool Evaluate(double const* const* parameters, double* r, double** jacobians) const override {
    const double* x = parameters[0];
    const bool known = x_.size() == n_ && std::equal(x_.begin(), x_.end(), x);
    if (jacobians == nullptr) {
      std::fill(r, r + n_ + 1, 0.0);
      if (!known && !look(x)) return false;
      r[0] = std::sqrt(square_);
      return true;
    }
    if ((!known || root_.size() == 0) && !look_closely(x)) return false;
    Eigen::Map<Eigen::VectorXd>(r, root_.rows()) = root_.rightCols<1>();
    Eigen::Map<RowMajor>(jacobians[0], root_.rows(), root_.cols() - 1) = root_.leftCols(root_.cols() - 1);
    return true;
  }

 private:
  bool look(const double* x) const {
    x_.clear();
    root_.resize(0, 0);
    std::vector<double> r(residuals_.count());
    if (!residuals_.evaluate(x, r.data(), nullptr)) return false;
    square_ = Eigen::Map<const Eigen::VectorXd>(r.data(), static_cast<Eigen::Index>(r.size())).squaredNorm();
    x_.assign(x, x + n_);
    return true;
  }

  bool look_closely(const double* x) const {
    x_.clear();
    NormalSums sums(n_);
    if (!residuals_.sum_up(x, sums)) return false;
    square_ = sums.square;
    const auto n = static_cast<Eigen::Index>(n_);
    Eigen::MatrixXd all(n + 1, n + 1);
    all.topLeftCorner(n, n) = Eigen::Map<const RowMajor>(sums.products.data(), n, n);
    all.topRightCorner(n, 1) = Eigen::Map<const Eigen::VectorXd>(sums.gradient.data(), n);
    all.bottomLeftCorner(1, n) = all.topRightCorner(n, 1).transpose();
    all(n, n) = sums.square;
    if (!all.allFinite()) return false;
    // A root of the matrix, its columns scaled to unit length: unknowns differ in size, and some leave no trace.
    const Eigen::VectorXd length = all.diagonal().cwiseSqrt().unaryExpr([](double l) { return l > 0.0 ? l : 1.0; });
    const Eigen::VectorXd inverse = length.cwiseInverse();
    const Eigen::LDLT<Eigen::MatrixXd> factors(inverse.asDiagonal() * all * inverse.asDiagonal());
    root_ = length.asDiagonal();
    root_ = factors.transpositionsP() * root_;
    root_ = factors.vectorD().cwiseMax(0.0).cwiseSqrt().asDiagonal() * (factors.matrixU() * root_);
    x_.assign(x, x + n_);
    return true;
  }

  const Residuals& residuals_;
  std::size_t n_;
  mutable std::vector<double> x_;  ///< where the following hold; empty: nowhere
  mutable double square_ = 0.0;
  mutable Eigen::MatrixXd root_;  ///< of [J r]'[J r]; empty: not asked for there
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

  bool sum_up(const double* x, NormalSums& sums) const override {
    std::vector<double> full = x_;
    for (std::size_t j = 0; j < free_.size(); ++j) full[free_[j]] = x[j];
    NormalSums wide(x_.size());
    if (!all_.sum_up(full.data(), wide)) return false;
    sums.square += wide.square;
    for (std::size_t a = 0; a < free_.size(); ++a) {
      sums.gradient[a] += wide.gradient[free_[a]];
      for (std::size_t b = 0; b < free_.size(); ++b)
        sums.products[a * free_.size() + b] += wide.products[free_[a] * x_.size() + free_[b]];
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
  ceres::CostFunction* block = nullptr;  // the problem owns it
  if (options.orthogonal) {
    block = new Block(residuals);
  } else {
    block = new Condensed(residuals);
  }
  problem.AddResidualBlock(block, nullptr, solution.x.data());
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

void NormalSums::add(const double* r, const double* jacobian, std::size_t rows) {
  const auto m = static_cast<Eigen::Index>(rows);
  const auto n = static_cast<Eigen::Index>(gradient.size());
  const Eigen::Map<const Eigen::VectorXd> residual(r, m);
  const Eigen::Map<const RowMajor> slopes(jacobian, m, n);
  square += residual.squaredNorm();
  Eigen::Map<Eigen::VectorXd>(gradient.data(), n).noalias() += slopes.transpose() * residual;
  Eigen::Map<RowMajor>(products.data(), n, n).noalias() += slopes.transpose() * slopes;
}

bool Residuals::sum_up(const double* x, NormalSums& sums) const {
  std::vector<double> r(count());
  std::vector<double> jacobian(count() * unknowns());
  if (!evaluate(x, r.data(), jacobian.data())) return false;
  sums.add(r.data(), jacobian.data(), count());
  return true;
}

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
