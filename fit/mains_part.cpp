#include "fit/mains_part.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace lampload {
namespace {

constexpr int highest_harmonic = 13;

/// Regressors: odd harmonics, a drift of the fundamental (which is a small error of the frequency), current and its
/// slope.
Eigen::MatrixXd regressors(std::span<const double> current, double dt_s, std::size_t first, const Figures& figures) {
  const auto n = static_cast<Eigen::Index>(current.size());
  const Eigen::Index harmonics = (highest_harmonic + 1) / 2;
  Eigen::MatrixXd x(n, 2 * harmonics + 5);
  const double omega = 2.0 * std::numbers::pi * *figures.mains_frequency_hz;
  const double duration = static_cast<double>(n) * dt_s;
  for (Eigen::Index k = 0; k < n; ++k) {
    const auto s = static_cast<std::size_t>(k);
    const double time = (static_cast<double>(first + s) - static_cast<double>(figures.steady_first)) * dt_s;
    const double angle = figures.steady_phase_deg * std::numbers::pi / 180.0 + omega * time;
    for (Eigen::Index h = 0; h < harmonics; ++h) {
      const double order = 2.0 * static_cast<double>(h) + 1.0;
      x(k, 2 * h) = std::sin(order * angle);
      x(k, 2 * h + 1) = std::cos(order * angle);
    }
    const double drift = static_cast<double>(k) * dt_s / duration - 0.5;
    x(k, 2 * harmonics) = drift * x(k, 0);
    x(k, 2 * harmonics + 1) = drift * x(k, 1);
    x(k, 2 * harmonics + 4) = 1.0;
    x(k, 2 * harmonics + 2) = current[s];
    const std::size_t before = s > 0 ? s - 1 : 0;
    const std::size_t after = std::min(s + 1, current.size() - 1);
    x(k, 2 * harmonics + 3) = (current[after] - current[before]) / (static_cast<double>(after - before) * dt_s) * 1e-3;
  }
  return x;
}

/// Samples that the cut leaves connected, by their phase.
std::vector<bool> connected(std::size_t samples, double dt_s, std::size_t first, const Figures& figures) {
  constexpr double margin_deg = 6.0;  // an edge, a choke's ringing, an error of the angle
  std::vector<bool> use(samples, true);
  for (std::size_t s = 0; s < samples; ++s) {
    const double time = (static_cast<double>(first + s) - static_cast<double>(figures.steady_first)) * dt_s;
    const double half = std::fmod(
        std::fmod(figures.steady_phase_deg + 360.0 * *figures.mains_frequency_hz * time, 180.0) + 180.0, 180.0);
    const double angle = figures.cut.conduction_angle_deg;
    if (figures.cut.edge == Edge::leading) use[s] = half > 180.0 - angle + margin_deg && half < 180.0 - margin_deg;
    if (figures.cut.edge == Edge::trailing) use[s] = half < angle - margin_deg;
    if (figures.turn_on && first + s < figures.turn_on->sample + 2) use[s] = false;
  }
  return use;
}

}  // namespace

std::optional<MainsPart> mains_part(std::span<const double> voltage, std::span<const double> current, double dt_s,
                                    std::size_t first, const Figures& figures, double noise) {
  if (!figures.mains_frequency_hz) return std::nullopt;
  const Eigen::MatrixXd x = regressors(current, dt_s, first, figures);
  const Eigen::Map<const Eigen::VectorXd> y(voltage.data(), static_cast<Eigen::Index>(voltage.size()));
  std::vector<bool> use = connected(voltage.size(), dt_s, first, figures);
  const double quarter_cycle = 0.25 / *figures.mains_frequency_hz / dt_s;

  Eigen::VectorXd fit;
  Eigen::VectorXd coefficients;
  double limit = 1e300;
  for (int round = 0; round < 4; ++round) {
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(x.cols(), x.cols());
    Eigen::VectorXd right = Eigen::VectorXd::Zero(x.cols());
    double used = 0.0;
    for (Eigen::Index k = 0; k < x.rows(); ++k) {
      const auto s = static_cast<std::size_t>(k);
      if (!use[s] || (round > 0 && std::abs(y[k] - fit[k]) > limit)) continue;
      normal.selfadjointView<Eigen::Lower>().rankUpdate(x.row(k).transpose());
      right += x.row(k).transpose() * y[k];
      used += 1.0;
    }
    if (used < quarter_cycle) return std::nullopt;
    // A breath of ridge: a current that follows the voltage cannot be told from it.
    for (Eigen::Index j = 0; j < x.cols(); ++j) normal(j, j) *= 1.0 + 1e-9;
    normal.diagonal().array() += 1e-9;
    const Eigen::MatrixXd full = normal.selfadjointView<Eigen::Lower>();
    coefficients = full.ldlt().solve(right);
    fit = x * coefficients;
    limit = std::max(5.0 * noise, limit < 1e299 ? 0.3 * limit : 0.1 * y.cwiseAbs().maxCoeff());
  }
  MainsPart part;
  part.offset_v = coefficients[coefficients.size() - 1];
  fit.array() -= part.offset_v;
  part.voltage_v.assign(fit.data(), fit.data() + fit.size());
  return part;
}

}  // namespace lampload
