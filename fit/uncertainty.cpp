#include "fit/uncertainty.h"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>

#include "core/error.h"
#include "fit/information.h"

namespace lampload {
namespace {

using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

/// Weak knowledge that keeps an unseen parameter finite: a factor of about ten, or its typical size.
double prior_information(const Unknown& unknown) {
  return unknown.kind == Unknown::Kind::lamp ? 1.0 / (2.0 * 2.0) : 1e-12;
}

/// How the solution moves with a time error between the channels that is no plain delay: a second pole, a probe's
/// phase, an instant between two samples. What a delay does to the rest while no delay is free.
Eigen::VectorXd shift_by_time_error(const LampResiduals& residuals, const RowMajor& jacobian,
                                    Eigen::MatrixXd information) {
  constexpr double time_error_s = 2e-6;  // common practice, no source
  constexpr double of_a_sample = 0.3;
  Eigen::VectorXd change = Eigen::VectorXd::Zero(jacobian.rows());
  const auto& free = residuals.free_unknowns();
  for (std::size_t j = 0; j < free.size(); ++j) {
    const Unknown& unknown = residuals.layout()[free[j]];
    if (unknown.kind != Unknown::Kind::delay) continue;
    const auto at = static_cast<Eigen::Index>(j);
    const double error_s = std::hypot(time_error_s, of_a_sample * residuals.drives()[unknown.capture].dt_s);
    change += jacobian.col(at) * (error_s / delay_scale_s);
    information(at, at) *= 1e9;
  }
  return inverse_of(information) * (jacobian.transpose() * change);
}

/// Spread of the summed scores, correlations among equal and neighbouring phases included.
Eigen::MatrixXd score_spread(const LampResiduals& residuals, const RowMajor& jacobian, const Eigen::VectorXd& r,
                             std::size_t lags) {
  const Eigen::Index n = jacobian.cols();
  const auto& origins = residuals.origins();
  const auto& drives = residuals.drives();
  Eigen::MatrixXd spread = Eigen::MatrixXd::Zero(n, n);
  std::size_t row = 0;
  for (std::size_t c = 0; c < drives.size(); ++c) {
    const std::size_t phases = drives[c].phases;
    RowMajor folded = RowMajor::Zero(static_cast<Eigen::Index>(phases), n);
    for (; row < origins.size() && origins[row].capture == c; ++row) {
      const auto at = static_cast<Eigen::Index>(row);
      folded.row(static_cast<Eigen::Index>(drives[c].phase[origins[row].block])) += jacobian.row(at) * r[at];
    }
    const std::size_t reach = std::min(lags, phases / 4);
    spread += folded.transpose() * folded;
    for (std::size_t lag = 1; lag <= reach; ++lag) {
      const double weight = 1.0 - static_cast<double>(lag) / static_cast<double>(reach + 1);
      Eigen::MatrixXd shifted = Eigen::MatrixXd::Zero(n, n);
      for (std::size_t p = 0; p < phases; ++p) {
        shifted += folded.row(static_cast<Eigen::Index>(p)).transpose() *
                   folded.row(static_cast<Eigen::Index>((p + lag) % phases));
      }
      spread += weight * (shifted + shifted.transpose());
    }
  }
  return spread;
}

/// Direct observations and priors speak once each, with the uncertainty they state (their rows carry an emphasis).
Eigen::MatrixXd known_beforehand(const LampResiduals& residuals, const RowMajor& jacobian) {
  const Eigen::MatrixXd rows =
      jacobian.bottomRows(jacobian.rows() - static_cast<Eigen::Index>(residuals.origins().size()));
  return residuals.learned().emphasis * rows.transpose() * rows;
}

}  // namespace

Correlation residual_correlation(const LampResiduals& residuals, const std::vector<double>& r) {
  const auto& origins = residuals.origins();
  constexpr std::size_t longest = 200;
  std::vector<double> product(longest + 1, 0.0);
  for (std::size_t row = 0; row < origins.size(); ++row) {
    for (std::size_t lag = 0; lag <= longest && row + lag < origins.size(); ++lag) {
      if (origins[row + lag].capture != origins[row].capture) break;
      product[lag] += r[row] * r[row + lag];
    }
  }
  Correlation correlation;
  if (product[0] <= 0.0) return correlation;
  correlation.lag_one = product[1] / product[0];
  for (std::size_t lag = 1; lag <= longest; ++lag) {
    const double share = product[lag] / product[0];
    if (share < 0.1) break;
    correlation.length += 2.0 * share;
  }
  // What a model misses comes again in every half cycle, with the voltage's sign.
  const auto& drives = residuals.drives();
  double folded_square = 0.0;
  std::size_t row = 0;
  for (std::size_t c = 0; c < drives.size(); ++c) {
    std::vector<double> folded(drives[c].phases, 0.0);
    for (; row < origins.size() && origins[row].capture == c; ++row) {
      const std::size_t block = origins[row].block;
      const double middle = drives[c].voltage_v[(drives[c].bounds[block] + drives[c].bounds[block + 1]) / 2];
      folded[drives[c].phase[block]] += (middle < 0.0 ? -r[row] : r[row]);
    }
    for (const double sum : folded) folded_square += sum * sum;
  }
  correlation.repetition = std::max(1.0, folded_square / product[0]);
  return correlation;
}

Uncertainty uncertainty_at(const LampResiduals& residuals, const std::vector<double>& full,
                           const UncertaintyOptions& options) {
  const auto n = static_cast<Eigen::Index>(residuals.unknowns());
  const auto m = static_cast<Eigen::Index>(residuals.count());
  const std::vector<double> x = residuals.reduce(full);
  RowMajor jacobian(m, n);
  Eigen::VectorXd r(m);
  if (!residuals.evaluate(x.data(), r.data(), jacobian.data())) {
    throw Error(ErrorCode::calculation, "the model cannot be evaluated at the solution");
  }
  Uncertainty result;
  const Correlation correlation = residual_correlation(residuals, {r.begin(), r.end()});
  result.autocorrelation = correlation.lag_one;
  result.correlation_length = correlation.length;

  Eigen::MatrixXd information = jacobian.transpose() * jacobian;
  for (Eigen::Index j = 0; j < n; ++j) {
    information(j, j) += prior_information(residuals.layout()[residuals.free_unknowns()[static_cast<std::size_t>(j)]]);
  }
  const Eigen::MatrixXd naive = inverse_of(information);

  const auto lags = static_cast<std::size_t>(std::ceil(correlation.length));
  Eigen::MatrixXd shared = naive * known_beforehand(residuals, jacobian) * naive;
  Eigen::MatrixXd covariance = naive * score_spread(residuals, jacobian, r, lags) * naive + shared;
  // The sandwich is itself an estimate: it never claims more than white residuals would allow.
  for (Eigen::Index j = 0; j < n; ++j) {
    if (!(covariance(j, j) > 1e-9 * naive(j, j))) {  // no residual knows it: nothing to scale
      covariance.row(j).setZero();
      covariance.col(j).setZero();
      covariance(j, j) = naive(j, j);
      continue;
    }
    const double short_by = naive(j, j) / covariance(j, j);
    if (short_by > 1.0) {
      covariance.row(j) *= std::sqrt(short_by);
      covariance.col(j) *= std::sqrt(short_by);
    }
  }
  // Type B: what every residual shares, and half of the scale errors again for each capture, whose range has its own.
  constexpr double own_range_share = 0.5;
  Eigen::MatrixXd type_b = Eigen::MatrixXd::Zero(n, n);
  const LampResiduals::SystematicSlopes slopes = residuals.systematic_slopes(full);
  const auto add = [&](const Eigen::VectorXd& change, double sd) {
    const Eigen::VectorXd shift = naive * (jacobian.transpose() * change);
    type_b += sd * sd * shift * shift.transpose();
  };
  const auto scale_error = [&](const std::vector<double>& by_scale, double relative) {
    const Eigen::Map<const Eigen::VectorXd> all(by_scale.data(), m);
    add(all, relative);
    for (std::size_t c = 0; c < residuals.drives().size(); ++c) {
      Eigen::VectorXd own = Eigen::VectorXd::Zero(m);
      for (std::size_t row = 0; row < residuals.origins().size(); ++row) {
        const auto at = static_cast<Eigen::Index>(row);
        if (residuals.origins()[row].capture == c) own[at] = all[at];
      }
      add(own, own_range_share * relative);
    }
  };
  scale_error(slopes.by_voltage_scale, options.voltage_gain_uncertainty);
  scale_error(slopes.by_current_scale, options.current_gain_uncertainty);
  add(Eigen::Map<const Eigen::VectorXd>(slopes.by_softness.data(), m), 1.0);
  const Eigen::VectorXd by_time = shift_by_time_error(residuals, jacobian, information);
  type_b += by_time * by_time.transpose();
  // What the family does not know of real circuits moves a parameter. Where that is little, the others follow as the
  // captures demand, and what they tell of all together (a rated power) stays as well known; where it is much, the
  // circuit is of another kind, and the model does not say what the others do.
  constexpr double little = 0.1;
  for (Eigen::Index j = 0; j < n; ++j) {
    const double sd = residuals.layout()[residuals.free_unknowns()[static_cast<std::size_t>(j)]].model_sd;
    if (sd > little || !(naive(j, j) > 0.0)) {
      type_b(j, j) += sd * sd;
    } else if (sd > 0.0) {
      const Eigen::VectorXd shift = naive.col(j) * (sd / naive(j, j));
      type_b += shift * shift.transpose();
    }
  }
  covariance += type_b;
  shared += type_b;

  std::size_t lamp = 0;
  for (const Unknown& unknown : residuals.layout()) lamp += unknown.kind == Unknown::Kind::lamp ? 1 : 0;
  result.information.assign(information.data(), information.data() + information.size());
  result.covariance.assign(lamp * lamp, 0.0);
  result.shared.assign(lamp * lamp, 0.0);
  const auto& free = residuals.free_unknowns();
  for (std::size_t a = 0; a < free.size() && free[a] < lamp; ++a) {
    for (std::size_t b = 0; b < free.size() && free[b] < lamp; ++b) {
      const auto row = static_cast<Eigen::Index>(a);
      const auto column = static_cast<Eigen::Index>(b);
      result.covariance[free[a] * lamp + free[b]] = covariance(row, column);
      result.shared[free[a] * lamp + free[b]] = shared(row, column);
    }
  }
  return result;
}

}  // namespace lampload
