#include "fit/interval_ends.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

#include "fit/estimates.h"
#include "fit/information.h"

namespace lampload {

std::vector<IntervalEnds> tried_ends(LampResiduals& residuals, const std::vector<double>& full,
                                     const Uncertainty& uncertainty) {
  constexpr int most_doublings = 6;
  constexpr double far_off = 20.0;  // where four are expected
  const auto n = static_cast<Eigen::Index>(residuals.unknowns());
  Eigen::MatrixXd information = Eigen::Map<const Eigen::MatrixXd>(uncertainty.information.data(), n, n);
  // No unknown can give way further than its bounds, which of start states are close.
  for (Eigen::Index a = 0; a < n; ++a) {
    const Unknown& unknown = residuals.layout()[residuals.free_unknowns()[static_cast<std::size_t>(a)]];
    const double room = 0.5 * (unknown.upper - unknown.lower);
    information(a, a) += 1.0 / (room * room);
  }
  const Eigen::MatrixXd naive = inverse_of(information);
  const std::vector<double> at_solution = residuals.reduce(full);
  const Eigen::Map<const Eigen::VectorXd> x(at_solution.data(), n);
  const auto& layout = residuals.layout();
  const std::vector<std::size_t> free = residuals.free_unknowns();
  const auto cost = [&](const Eigen::VectorXd& at) {
    Eigen::VectorXd r(static_cast<Eigen::Index>(residuals.count()));
    return residuals.evaluate(at.data(), r.data(), nullptr) ? 0.5 * r.squaredNorm()
                                                            : std::numeric_limits<double>::infinity();
  };
  const double least = cost(x);
  std::vector<bool> all_free(layout.size(), false);
  for (const std::size_t j : free) all_free[j] = true;
  const auto refitted = [&](std::size_t j, double coordinate) {
    std::vector<bool> rest = all_free;
    rest[j] = false;
    std::vector<double> moved = full;
    moved[j] = coordinate;
    residuals.set_free(rest, moved);
    Box box;
    for (const std::size_t k : residuals.free_unknowns()) {
      box.lower.push_back(layout[k].lower);
      box.upper.push_back(layout[k].upper);
    }
    const Solution solution = minimise(residuals, residuals.reduce(moved), box,
                                       {.max_iterations = 10, .function_tolerance = 1e-4, .bound_rounds = 0});
    residuals.set_free(all_free, full);
    return solution.usable ? solution.cost : std::numeric_limits<double>::infinity();
  };

  const auto parameters = static_cast<std::size_t>(std::lround(std::sqrt(uncertainty.covariance.size())));
  std::vector<IntervalEnds> ends;
  for (std::size_t j = 0; j < parameters; ++j) ends.push_back({full[j], full[j]});
  for (Eigen::Index a = 0; a < n && free[static_cast<std::size_t>(a)] < parameters; ++a) {
    const std::size_t j = free[static_cast<std::size_t>(a)];
    const double end = coverage_95 * std::sqrt(std::max(0.0, uncertainty.covariance[j * parameters + j]));
    const double objection = 0.5 * end * end / naive(a, a);
    // The other unknowns give way as the covariance says that they do.
    const Eigen::VectorXd along = naive.col(a) / naive(a, a);
    const auto tried = [&](double sign) {
      const double room = sign > 0.0 ? layout[j].upper - full[j] : full[j] - layout[j].lower;
      double reach = end;
      for (int doubling = 0; doubling < most_doublings && reach < room; ++doubling) {
        const double further = std::min(2.0 * reach, room);
        Eigen::VectorXd there = x + sign * further * along;
        for (Eigen::Index b = 0; b < n; ++b) {
          const Unknown& unknown = layout[free[static_cast<std::size_t>(b)]];
          there[b] = std::clamp(there[b], unknown.lower, unknown.upper);
        }
        double rise = cost(there) - least;
        // Far off what the curvature promises: the others have to find their own way.
        if (rise > far_off * objection) rise = refitted(j, full[j] + sign * further) - least;
        if (!(rise < objection)) break;
        reach = further;
      }
      return full[j] + sign * reach;
    };
    if (end > 0.0) ends[j] = {tried(-1.0), tried(+1.0)};
  }
  return ends;
}

}  // namespace lampload
