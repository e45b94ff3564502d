#include "fit/trial_capture.h"

#include "core/error.h"
#include "fit/information.h"

namespace lampload {
namespace {

using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

/// What is left of an information matrix about its first `kept` unknowns when the others are not known.
Eigen::MatrixXd about_first(const Eigen::MatrixXd& m, Eigen::Index kept) {
  const Eigen::Index rest = m.rows() - kept;
  if (rest == 0) return m;
  return m.topLeftCorner(kept, kept) -
         m.topRightCorner(kept, rest) * inverse_of(m.bottomRightCorner(rest, rest)) * m.bottomLeftCorner(rest, kept);
}

/// Unknowns with the lamp moved along a way, by one of its standard deviations.
std::vector<double> moved_along(const FamilyInfo& family, std::vector<double> full, const std::vector<double>& by) {
  for (std::size_t j = 0; j < by.size(); ++j) {
    if (by[j] == 0.0) continue;
    const ParameterSpec& spec = family.parameters[j];
    const double step = by[j] / coverage;
    const bool held = spec.optional && from_coordinate(spec, full[j]) == spec.absent;
    full[j] = held ? to_coordinate(spec, spec.absent + step) : full[j] + step;
  }
  return full;
}

}  // namespace

KnownBefore known_before(LampResiduals& solution, const Candidate& candidate, const Uncertainty& uncertainty,
                         const LeftOpen& open) {
  const FamilyInfo& family = lamp_families()[candidate.family];
  const std::vector<std::size_t> unknowns = solution.free_unknowns();
  const auto n = static_cast<Eigen::Index>(unknowns.size());
  const auto m = static_cast<Eigen::Index>(solution.count());
  const auto ways = static_cast<Eigen::Index>(open.ways.size());
  const std::vector<double> x = solution.reduce(candidate.full);
  RowMajor jacobian(m, n);
  Eigen::VectorXd central(m);
  if (!solution.evaluate(x.data(), central.data(), jacobian.data()))
    throw Error(ErrorCode::calculation, "the model cannot be evaluated at the solution");
  std::vector<bool> free(candidate.full.size(), false);
  for (const std::size_t j : unknowns) free[j] = true;

  // Each way as a sum of the fit's unknowns; of a part that the lamp does without, as a change of the residuals.
  KnownBefore known;
  known.learned = solution.learned();
  Eigen::MatrixXd ways_by_unknowns = Eigen::MatrixXd::Zero(n, ways);
  RowMajor absent = RowMajor::Zero(m, ways);
  for (Eigen::Index a = 0; a < ways; ++a) {
    const OpenWay& way = open.ways[static_cast<std::size_t>(a)];
    if (way.absent_part) {
      solution.set_free(free, moved_along(family, candidate.full, way.up.by));
      Eigen::VectorXd there(m);
      if (solution.evaluate(x.data(), there.data(), nullptr)) absent.col(a) = there - central;
      continue;
    }
    for (Eigen::Index j = 0; j < n; ++j) {
      const Unknown& unknown = solution.layout()[unknowns[static_cast<std::size_t>(j)]];
      if (unknown.kind == Unknown::Kind::lamp)
        ways_by_unknowns(j, a) = 0.5 * (way.up.by[unknown.index] - way.down.by[unknown.index]) / coverage;
    }
  }
  solution.set_free(free, candidate.full);
  std::vector<Eigen::Index> shared, others;
  for (Eigen::Index j = 0; j < n; ++j) {
    const Unknown& unknown = solution.layout()[unknowns[static_cast<std::size_t>(j)]];
    if (unknown.kind == Unknown::Kind::lamp) continue;
    if (unknown.kind == Unknown::Kind::bandwidth) {
      known.bandwidth = true;
      shared.insert(shared.begin(), j);
    } else if (unknown.kind == Unknown::Kind::delay && unknown.capture == 0) {
      known.delay = true;
      shared.push_back(j);
    } else {
      others.push_back(j);
    }
  }
  const auto kept = ways + static_cast<Eigen::Index>(shared.size());
  shared.insert(shared.end(), others.begin(), others.end());
  Eigen::MatrixXd unknowns_by = Eigen::MatrixXd::Zero(n, ways + static_cast<Eigen::Index>(shared.size()));
  unknowns_by.leftCols(ways) = ways_by_unknowns;
  for (std::size_t k = 0; k < shared.size(); ++k) unknowns_by(shared[k], ways + static_cast<Eigen::Index>(k)) = 1.0;
  const Eigen::Map<const Eigen::MatrixXd> information(uncertainty.information.data(), n, n);
  Eigen::MatrixXd all = unknowns_by.transpose() * information * unknowns_by;
  const Eigen::MatrixXd crossed = unknowns_by.transpose() * (jacobian.transpose() * absent);
  all.leftCols(ways) += crossed;
  all.topRows(ways) += crossed.transpose();
  all.topLeftCorner(ways, ways) += absent.transpose() * absent;
  // How much of such a part there may be at all is known beforehand.
  for (Eigen::Index a = 0; a < ways; ++a) all(a, a) += open.ways[static_cast<std::size_t>(a)].absent_part ? 1.0 : 0.0;
  known.information = about_first(all, kept);
  return known;
}

TrialCapture::TrialCapture(const Candidate& candidate, const Lamp& lamp, const OperatingPoint& at,
                           const CaptureSetup& setup, const KnownBefore& known)
    : family_(lamp.family()), known_(known) {
  const Capture capture = simulate_capture(lamp, at.voltage_v, at.frequency_hz, setup);
  Nominal nominal;
  nominal.voltage_v = at.voltage_v;
  nominal.frequency_hz = at.frequency_hz;
  const Figures figures = measure(capture, nominal);
  residuals_ =
      make_residuals(candidate.family,
                     {make_drive(capture, figures, {.coarse_s = 80e-6, .fine_s = 5e-6, .max_duration_s = 0.16})}, {});
  const std::size_t parameters = lamp.parameters().size();
  full_.assign(candidate.full.begin(), candidate.full.begin() + static_cast<std::ptrdiff_t>(parameters));
  free_.assign(parameters, false);
  for (const Unknown& unknown : residuals_->layout()) {
    if (unknown.kind == Unknown::Kind::lamp) continue;
    const bool bandwidth = unknown.kind == Unknown::Kind::bandwidth;
    full_.push_back(bandwidth ? candidate.full[parameters] : 0.0);
    free_.push_back(!bandwidth || known.bandwidth);
  }
  full_ = residuals_->settle(std::move(full_));
  residuals_->take_over(known.learned);
  residuals_->weigh(full_);
}

Eigen::MatrixXd TrialCapture::covariance_with(const LeftOpen& open) {
  residuals_->set_free(free_, full_);
  const auto rows = static_cast<Eigen::Index>(residuals_->count());
  const auto own = static_cast<Eigen::Index>(residuals_->unknowns());
  const auto ways = static_cast<Eigen::Index>(open.ways.size());
  RowMajor by_own(rows, own);
  Eigen::VectorXd central(rows);
  if (!residuals_->evaluate(residuals_->reduce(full_).data(), central.data(), by_own.data()))
    throw Error(ErrorCode::calculation, "the model cannot be evaluated on a simulated capture");
  // In order: what is shared (the last of it the delay of the captures there are), then what is the new one's own.
  std::vector<Eigen::Index> place;
  const Eigen::Index shared = known_.information.rows();
  Eigen::Index next = shared;
  Eigen::MatrixXd tied = Eigen::MatrixXd::Zero(shared + own, shared + own);
  const double emphasis = known_.learned.emphasis;
  for (const std::size_t j : residuals_->free_unknowns()) {
    const Unknown& unknown = residuals_->layout()[j];
    const Eigen::Index at = unknown.kind == Unknown::Kind::bandwidth ? ways : next++;
    place.push_back(at);
    // What is known of bandwidth and delay beforehand is in both: take the new capture's share out again.
    if (unknown.prior_sd > 0.0) tied(at, at) -= emphasis / (unknown.prior_sd * unknown.prior_sd);
    if (unknown.kind == Unknown::Kind::delay && known_.delay) {
      const double sd = delay_change_sd(residuals_->drives()[0].dt_s);
      const double tie = emphasis / (sd * sd);
      const Eigen::Index old = shared - 1;
      tied(old, old) += tie;
      tied(at, at) += tie;
      tied(old, at) -= tie;
      tied(at, old) -= tie;
    }
  }
  RowMajor by(rows, next);
  by.setZero();
  for (Eigen::Index a = 0; a < ways; ++a) {
    const OpenWay& way = open.ways[static_cast<std::size_t>(a)];
    by.col(a) = way.absent_part
                    ? Eigen::VectorXd(residuals_at(way.up.by, central) - central)
                    : Eigen::VectorXd(0.5 * (residuals_at(way.up.by, central) - residuals_at(way.down.by, central)));
  }
  for (Eigen::Index j = 0; j < own; ++j) by.col(place[static_cast<std::size_t>(j)]) = by_own.col(j);
  Eigen::MatrixXd all = by.transpose() * by + tied.topLeftCorner(next, next);
  all.topLeftCorner(shared, shared) += known_.information;
  return inverse_of(all).topLeftCorner(ways, ways);
}

/// Of a lamp one standard deviation on its way, running as such a lamp would; `otherwise` where it cannot be evaluated.
Eigen::VectorXd TrialCapture::residuals_at(const std::vector<double>& by, const Eigen::VectorXd& otherwise) {
  const std::vector<double> full = residuals_->settle(moved_along(family_, full_, by));
  residuals_->set_free(free_, full);
  Eigen::VectorXd r(otherwise.size());
  const bool fine = residuals_->evaluate(residuals_->reduce(full).data(), r.data(), nullptr);
  return fine ? r : otherwise;
}

}  // namespace lampload
