#include "fit/piece_spread.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "core/error.h"

namespace lampload {
namespace {

struct Pooled {
  double mean;
  double variance;        ///< of the mean
  double log_likelihood;  ///< restricted, but for a constant
};

Pooled pooled(std::span<const PieceValue> pieces, double between_variance) {
  double weights = 0.0;
  double weighted = 0.0;
  double log_weights = 0.0;
  for (const PieceValue& piece : pieces) {
    const double weight = 1.0 / (piece.variance + between_variance);
    weights += weight;
    weighted += weight * piece.value;
    log_weights += std::log(weight);
  }
  const double mean = weighted / weights;
  double chi_square = 0.0;
  for (const PieceValue& piece : pieces) {
    chi_square += (piece.value - mean) * (piece.value - mean) / (piece.variance + between_variance);
  }
  return {mean, 1.0 / weights, 0.5 * (log_weights - std::log(weights) - chi_square)};
}

/// The between-piece variance with the highest restricted likelihood: the best of a logarithmic grid, then a golden
/// section about it.
double restricted_maximum(std::span<const PieceValue> pieces) {
  double mean = 0.0;
  double widest = 0.0;
  for (const PieceValue& piece : pieces) mean += piece.value / static_cast<double>(pieces.size());
  double own = 0.0;
  for (const PieceValue& piece : pieces) {
    widest = std::max(widest, (piece.value - mean) * (piece.value - mean));
    own = std::max(own, piece.variance);
  }
  if (!(widest > 0.0)) return 0.0;
  // No maximum is far above the squared deviations; below the last of these steps the spread does not matter.
  constexpr double step = 0.25;
  const double top = std::log(4.0 * widest * static_cast<double>(pieces.size()));
  const auto at = [&](double log_variance) { return pooled(pieces, std::exp(log_variance)).log_likelihood; };
  double best = top;
  for (double x = top; x > top - 40.0; x -= step) {
    if (at(x) > at(best)) best = x;
  }
  double low = best - step;
  double high = best + step;
  constexpr double golden = 0.6180339887498949;
  for (int turn = 0; turn < 60; ++turn) {
    const double left = high - golden * (high - low);
    const double right = low + golden * (high - low);
    (at(left) > at(right) ? high : low) = at(left) > at(right) ? right : left;
  }
  const double found = std::exp(0.5 * (low + high));
  const bool zero_is_better =
      own > 0.0 &&
      std::all_of(pieces.begin(), pieces.end(), [](const PieceValue& piece) { return piece.variance > 0.0; }) &&
      pooled(pieces, 0.0).log_likelihood >= at(std::log(found));
  return zero_is_better ? 0.0 : found;
}

/// The posterior of the spread on a logarithmic grid.
struct Posterior {
  std::vector<double> log_spread;
  std::vector<double> weight;  ///< they add up to 1
  std::vector<double> mean;
  std::vector<double> mean_sd;
};

Posterior posterior_of(std::span<const PieceValue> pieces, const UsualSpread& usual) {
  // The density is smooth, for which equal steps converge fast.
  constexpr double step = 0.025;
  constexpr int below = 120;  // e^-3 of the usual spread: the prior allows nothing there
  constexpr int above = 480;
  Posterior posterior;
  std::vector<double> log_density;
  for (int k = -below; k <= above; ++k) {
    const double x = std::log(usual.spread) + step * k;
    const double ratio = usual.spread * std::exp(-x);
    const Pooled one = pooled(pieces, std::exp(2.0 * x));
    posterior.log_spread.push_back(x);
    posterior.mean.push_back(one.mean);
    posterior.mean_sd.push_back(std::sqrt(one.variance));
    // A density of ln(spread).
    log_density.push_back(one.log_likelihood + usual.degrees_of_freedom * (std::log(ratio) - 0.5 * ratio * ratio));
  }
  const double highest = *std::max_element(log_density.begin(), log_density.end());
  double sum = 0.0;
  for (const double value : log_density) sum += posterior.weight.emplace_back(std::exp(value - highest));
  for (double& weight : posterior.weight) weight /= sum;
  return posterior;
}

/// Between two steps the log odds of the share below run straight.
double quantile_of_spread(const Posterior& posterior, double share) {
  const auto log_odds = [](double below) { return std::log(below / (1.0 - below)); };
  const double wanted = log_odds(share);
  double before = 0.0;
  double last = 0.0;
  for (std::size_t k = 0; k < posterior.weight.size(); ++k) {
    const double here = log_odds(before + 0.5 * posterior.weight[k]);
    if (here >= wanted && k > 0) {
      const double part = std::isfinite(last) ? (wanted - last) / (here - last) : 1.0;
      return std::exp(std::lerp(posterior.log_spread[k - 1], posterior.log_spread[k], part));
    }
    last = here;
    before += posterior.weight[k];
  }
  return std::exp(posterior.log_spread.back());
}

double quantile_of_mean(const Posterior& posterior, double share, double centre, double sd) {
  const auto below = [&](double x) {
    double sum = 0.0;
    for (std::size_t k = 0; k < posterior.weight.size(); ++k) {
      sum +=
          posterior.weight[k] * 0.5 * std::erfc((posterior.mean[k] - x) / (posterior.mean_sd[k] * std::numbers::sqrt2));
    }
    return sum;
  };
  double low = centre - 100.0 * sd;
  double high = centre + 100.0 * sd;
  for (int turn = 0; turn < 45; ++turn) {
    const double middle = 0.5 * (low + high);
    (below(middle) < share ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

}  // namespace

PieceSpread piece_spread(std::span<const PieceValue> pieces, const UsualSpread& usual) {
  if (pieces.empty()) throw Error(ErrorCode::input_refused, "the spread of a lamp type needs at least one piece");
  for (const PieceValue& piece : pieces) {
    if (!std::isfinite(piece.value) || !std::isfinite(piece.variance) || piece.variance < 0.0)
      throw Error(ErrorCode::input_refused, "a piece's value or its variance is not a finite number");
  }
  PieceSpread result;
  result.pieces = pieces.size();
  const Posterior posterior = posterior_of(pieces, usual);
  double precision = 0.0;
  double square = 0.0;
  for (std::size_t k = 0; k < posterior.weight.size(); ++k) {
    const double one = std::exp(-2.0 * posterior.log_spread[k]);
    precision += posterior.weight[k] * one;
    square += posterior.weight[k] * one * one;
  }
  result.spread = 1.0 / std::sqrt(precision);
  result.lower_95 = quantile_of_spread(posterior, 0.025);
  result.upper_95 = quantile_of_spread(posterior, 0.975);
  // A scaled inverse chi-square distribution with the same mean and variance of 1/spread^2.
  const double degrees_of_freedom = 2.0 * precision * precision / (square - precision * precision);
  result.usual_share = std::min(1.0, usual.degrees_of_freedom / degrees_of_freedom);
  if (pieces.size() > 1) result.measured = std::sqrt(restricted_maximum(pieces));
  const Pooled at = pooled(pieces, result.spread * result.spread);
  result.mean = at.mean;
  result.mean_sd = std::sqrt(at.variance);
  result.coverage_95 = 0.5 *
                       (quantile_of_mean(posterior, 0.975, result.mean, result.mean_sd) -
                        quantile_of_mean(posterior, 0.025, result.mean, result.mean_sd)) /
                       result.mean_sd;
  return result;
}

}  // namespace lampload
