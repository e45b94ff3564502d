#include "fit/optional_parts.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

namespace lampload {
namespace {

using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

/// Share of a part's price that the residuals must promise for it to be tried: they do so to first order, from values
/// that are not the part's own.
constexpr double worth_trying = 0.5;

struct Part {
  std::size_t first;  ///< in the family's table
  std::size_t count;
  /// Each parameter has to pay. Found on simulated lamps: limiters and dampers that were there brought 200 and more, a
  /// limiter that was not up to 72, where a coarse record smears the charging pulses.
  [[nodiscard]] double price() const { return worth_freeing * static_cast<double>(count); }
};

std::vector<Part> parts_of(const FamilyInfo& family) {
  std::vector<Part> parts;
  for (std::size_t j = 0; j < family.parameters.size(); ++j) {
    const ParameterSpec& spec = family.parameters[j];
    if (spec.part.empty()) continue;
    if (leads_its_part(family.parameters, j)) parts.push_back({j, 0});
    ++parts.back().count;
  }
  return parts;
}

/// Structured misfit: what counts is the relative fall, over as many independent blocks as a tenth of them.
double gain_of(const LampResiduals& residuals, double before, double after) {
  return 0.1 * static_cast<double>(residuals.origins().size()) * std::log(before / after);
}

/// The candidate with a part of these values, slow states settled with it.
Candidate with_part(LampResiduals& residuals, const Candidate& plain, const Part& part,
                    const std::vector<double>& values) {
  Candidate with = plain;
  for (std::size_t k = 0; k < part.count; ++k) {
    const std::size_t j = part.first + k;
    with.full[j] = to_coordinate(lamp_families()[plain.family].parameters[j], values[k]);
    with.free[j] = true;
  }
  with.full = residuals.settle(std::move(with.full));
  return with;
}

/// The residuals at a plain solution, freed of what its own unknowns can still change.
struct PlainResiduals {
  RowMajor jacobian;
  Eigen::VectorXd r, left;
  Eigen::ColPivHouseholderQR<Eigen::MatrixXd> factors;
};

PlainResiduals residuals_at(LampResiduals& residuals, const Candidate& plain) {
  residuals.set_free(plain.free, plain.full);
  PlainResiduals at;
  at.r.resize(static_cast<Eigen::Index>(residuals.count()));
  at.jacobian.resize(at.r.size(), static_cast<Eigen::Index>(residuals.unknowns()));
  if (!residuals.evaluate(residuals.reduce(plain.full).data(), at.r.data(), at.jacobian.data())) at.r.setZero();
  at.factors.compute(at.jacobian);
  at.left = at.r - at.jacobian * at.factors.solve(at.r);
  return at;
}

/// Cost to which the residuals would fall if they changed in proportion to what the part, as large as it is in `with`,
/// makes of them.
double promised_cost(LampResiduals& residuals, const Candidate& plain, const PlainResiduals& at,
                     const Candidate& with) {
  residuals.set_free(plain.free, with.full);
  Eigen::VectorXd changed(at.r.size());
  const double as_it_is = 0.5 * at.r.squaredNorm();
  if (!residuals.evaluate(residuals.reduce(with.full).data(), changed.data(), nullptr)) return as_it_is;
  const Eigen::VectorXd change = changed - at.r;
  const Eigen::VectorXd own = change - at.jacobian * at.factors.solve(change);
  constexpr double of_its_own = 1e-3;  // of the change: less than that is no sign of a part
  const double along = -own.dot(at.left);
  if (!(own.norm() > of_its_own * change.norm()) || !(along > 0.0)) return as_it_is;
  return std::max(0.5 * at.left.squaredNorm() - 0.5 * along * along / own.squaredNorm(), 0.01 * as_it_is);
}

/// Solved with the part, first with the bandwidth at what is usual, since a slow clamp may have stood in for it.
Candidate solved_with(LampResiduals& residuals, Candidate with) {
  const std::vector<bool> free = with.free;
  for (std::size_t k = 0; k < with.full.size(); ++k) {
    const Unknown& unknown = residuals.layout()[k];
    if (unknown.kind != Unknown::Kind::bandwidth) continue;
    with.full[k] = unknown.prior_mean;
    with.free[k] = false;
  }
  solve(residuals, with, {.max_iterations = 15, .function_tolerance = 1e-3, .bound_rounds = 1});
  with.free = free;
  solve(residuals, with, {.max_iterations = 15, .function_tolerance = 1e-3, .bound_rounds = 1});
  return with;
}

/// Optional parameters that the plain lamp needed and this one does not, put back to nothing.
void drop_stand_ins(LampResiduals& residuals, Candidate& with) {
  const auto table = lamp_families()[with.family].parameters;
  for (std::size_t j = 0; j < table.size(); ++j) {
    if (!table[j].optional || !table[j].part.empty() || !with.free[j]) continue;
    Candidate without = with;
    without.free[j] = false;
    without.full[j] = to_coordinate(table[j], table[j].absent);
    solve(residuals, without, {.max_iterations = 15, .function_tolerance = 1e-3, .bound_rounds = 1});
    if (without.usable && gain_of(residuals, without.cost, with.cost) < worth_freeing) with = without;
  }
}

}  // namespace

bool knows_parts(const FamilyInfo& family) {
  return std::any_of(family.parameters.begin(), family.parameters.end(),
                     [](const ParameterSpec& spec) { return !spec.part.empty(); });
}

Refined with_optional_parts(Refined solution) {
  using End = FreeingTrial::End;
  const FamilyInfo& family = lamp_families()[solution.candidate.family];
  LampResiduals& residuals = *solution.residuals;
  const std::vector<Part> parts = parts_of(family);
  for (std::size_t round = 0; round < parts.size(); ++round) {
    const Candidate plain = solution.candidate;
    std::vector<double> lamp;
    for (std::size_t j = 0; j < family.parameters.size(); ++j) {
      lamp.push_back(plain.free[j] ? from_coordinate(family.parameters[j], plain.full[j])
                                   : family.parameters[j].absent);
    }
    const PlainResiduals at = residuals_at(residuals, plain);
    const double cost = 0.5 * at.r.squaredNorm();
    Candidate better;
    double best_worth = 0.0;
    std::size_t best_part = 0;
    for (const Part& part : parts) {
      if (plain.free[part.first]) continue;
      FreeingTrial& came = solution.trials[part.first];
      Candidate trial;
      double promised = std::numeric_limits<double>::infinity();
      for (const std::vector<double>& values :
           family_part_starts(plain.family, lamp, family.parameters[part.first].part)) {
        const Candidate with = with_part(residuals, plain, part, values);
        const double then = promised_cost(residuals, plain, at, with);
        if (!(then < promised)) continue;
        promised = then;
        trial = with;
      }
      came = {End::not_asked_for, gain_of(residuals, cost, promised), part.price()};
      if (came.gain < worth_trying * part.price()) continue;
      trial = solved_with(residuals, std::move(trial));
      const Unknown& size = residuals.layout()[part.first];
      if (!trial.usable) {
        came = {End::not_converged, 0.0, part.price()};
      } else if (trial.full[part.first] <= size.lower + 1e-3 * (size.upper - size.lower)) {
        came = {End::vanished, 0.0, part.price()};
      } else if (leans_on_bound(residuals, trial)) {
        came = {End::leans_on_bound, 0.0, part.price()};
      } else {
        came.gain = gain_of(residuals, cost, trial.cost);
        came.end = came.gain < part.price() ? End::does_not_pay : End::enough_freed;
        if (came.gain - part.price() > best_worth) {
          best_worth = came.gain - part.price();
          best_part = part.first;
          better = trial;
        }
      }
    }
    if (!better.usable) break;
    drop_stand_ins(residuals, better);
    residuals.weigh(better.full);
    solve(residuals, better, {.max_iterations = 20, .function_tolerance = 1e-4});
    if (!better.usable || leans_on_bound(residuals, better)) {
      residuals.weigh(plain.full);
      solution.trials[best_part].end = better.usable ? End::leans_on_bound : End::not_converged;
      break;
    }
    solution.trials[best_part].end = End::freed;
    solution.candidate = better;
  }
  residuals.set_free(solution.candidate.free, solution.candidate.full);
  solution.misfit = misfit(residuals, solution.candidate.full);
  return solution;
}

void tell_of_parts(const Refined& tried, Refined& other) {
  const auto from = lamp_families()[tried.candidate.family].parameters;
  const auto to = lamp_families()[other.candidate.family].parameters;
  for (std::size_t j = 0; j < from.size(); ++j) {
    const std::size_t k = index_of(to, from[j].name);
    if (!from[j].part.empty() && k < to.size()) other.trials[k] = tried.trials[j];
  }
}

}  // namespace lampload
