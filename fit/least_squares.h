#pragma once
// Bounded nonlinear least squares through Ceres, and the covariance of its solution.
// A converged solver is not a right answer: whoever calls this checks the residuals (fit/gate.h).

#include <cstddef>
#include <string>
#include <vector>

namespace lampload {

/// What normal equations are made of: sums over all residuals.
struct NormalSums {
  double square = 0.0;           ///< r'r
  std::vector<double> gradient;  ///< J'r
  std::vector<double> products;  ///< J'J, row by row

  explicit NormalSums(std::size_t unknowns = 0) : gradient(unknowns, 0.0), products(unknowns * unknowns, 0.0) {}
  /// Counts `rows` more residuals: r, and jacobian row by row over all unknowns.
  void add(const double* r, const double* jacobian, std::size_t rows);
};

/// A vector of residuals r(x), each divided by its standard deviation, with derivatives.
class Residuals {
 public:
  virtual ~Residuals() = default;
  [[nodiscard]] virtual std::size_t unknowns() const = 0;
  [[nodiscard]] virtual std::size_t count() const = 0;
  /// Fills r (count) and, unless null, jacobian (count rows of unknowns, row by row).
  /// Returns false where the model cannot be evaluated at x.
  virtual bool evaluate(const double* x, double* r, double* jacobian) const = 0;
  /// The same summed up, for those who can do without the rows. Returns false likewise.
  virtual bool sum_up(const double* x, NormalSums& sums) const;
};

/// Finite bounds on every unknown; the solution stays inside.
struct Box {
  std::vector<double> lower;
  std::vector<double> upper;
};

struct SolveOptions {
  int max_iterations = 60;
  double function_tolerance = 1e-7;
  double parameter_tolerance = 1e-9;
  int bound_rounds = 3;     ///< how often to go on after an unknown has met its bound
  bool orthogonal = false;  ///< QR instead of normal equations: for small, badly conditioned problems
};

struct Solution {
  std::vector<double> x;
  double cost = 0.0;  ///< half the sum of squares
  bool usable = false;
  int iterations = 0;
  std::string message = "not solved";
};

/// Minimises half the sum of squares from `start` (moved into the box first). One thread, deterministic.
Solution minimise(const Residuals& residuals, std::vector<double> start, const Box& box,
                  const SolveOptions& options = {});

/// Inverse of J'J + diag(prior_information) at x, row by row, unit-variance residuals assumed; unknowns with held[j]
/// get zero rows. prior_information: 1/variance of what is known of each unknown beforehand, or empty. Throws
/// Error{calculation} where the matrix is singular and no prior helps.
std::vector<double> covariance_at(const Residuals& residuals, const std::vector<double>& x,
                                  const std::vector<bool>& held, const std::vector<double>& prior_information = {});

}  // namespace lampload
