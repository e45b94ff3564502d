#include "fit/mains_part.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "fit/least_squares.h"

namespace lampload {
namespace {

using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

constexpr int highest_harmonic = 13;

/// Regressors: odd harmonics, a drift of the fundamental (which is a small error of the frequency), current and its
/// slope.
RowMajor regressors(std::span<const double> current, double dt_s, std::size_t first, const Figures& figures) {
  const auto n = static_cast<Eigen::Index>(current.size());
  const Eigen::Index harmonics = (highest_harmonic + 1) / 2;
  RowMajor x(n, 2 * harmonics + 5);
  const double omega = 2.0 * std::numbers::pi * *figures.mains_frequency_hz;
  const double duration = static_cast<double>(n) * dt_s;
  for (Eigen::Index k = 0; k < n; ++k) {
    const auto s = static_cast<std::size_t>(k);
    const double time = (static_cast<double>(first + s) - static_cast<double>(figures.steady_first)) * dt_s;
    const double angle = figures.steady_phase_deg * std::numbers::pi / 180.0 + omega * time;
    x(k, 0) = std::sin(angle);
    x(k, 1) = std::cos(angle);
    // each harmonic from the one before it, turned by twice the angle
    const double sine = 2.0 * x(k, 0) * x(k, 1);
    const double cosine = x(k, 1) * x(k, 1) - x(k, 0) * x(k, 0);
    for (Eigen::Index h = 1; h < harmonics; ++h) {
      x(k, 2 * h) = x(k, 2 * h - 2) * cosine + x(k, 2 * h - 1) * sine;
      x(k, 2 * h + 1) = x(k, 2 * h - 1) * cosine - x(k, 2 * h - 2) * sine;
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

/// Normal equations over the samples in use; those that come or go from one round to the next are counted alone.
class UsedSamples {
 public:
  UsedSamples(const RowMajor& x, std::span<const double> y)
      : x_(x), y_(y), sums_(static_cast<std::size_t>(x.cols())), used_(y.size(), false), rows_(tile, x.cols()) {}

  /// used(s): is sample s in use now?
  template <class Used>
  void set(const Used& used) {
    NormalSums come(sums_.gradient.size());
    NormalSums gone(sums_.gradient.size());
    for (const bool now : {true, false}) {
      for (std::size_t s = 0; s < used_.size(); ++s) {
        if (used_[s] == now || used(s) != now) continue;
        used_[s] = now;
        count_ += now ? 1.0 : -1.0;
        take(s, now ? come : gone);
      }
      flush(now ? come : gone);
    }
    for (std::size_t j = 0; j < sums_.gradient.size(); ++j) sums_.gradient[j] += come.gradient[j] - gone.gradient[j];
    for (std::size_t j = 0; j < sums_.products.size(); ++j) sums_.products[j] += come.products[j] - gone.products[j];
  }
  [[nodiscard]] double count() const { return count_; }

  [[nodiscard]] Eigen::VectorXd solve() const {
    RowMajor normal = Eigen::Map<const RowMajor>(sums_.products.data(), x_.cols(), x_.cols());
    // A breath of ridge: a current that follows the voltage cannot be told from it.
    for (Eigen::Index j = 0; j < x_.cols(); ++j) normal(j, j) *= 1.0 + 1e-9;
    normal.diagonal().array() += 1e-9;
    return normal.ldlt().solve(Eigen::Map<const Eigen::VectorXd>(sums_.gradient.data(), x_.cols()));
  }

 private:
  static constexpr Eigen::Index tile = 64;

  void take(std::size_t s, NormalSums& sums) {
    rows_.row(taken_) = x_.row(static_cast<Eigen::Index>(s));
    values_[static_cast<std::size_t>(taken_)] = y_[s];
    if (++taken_ == tile) flush(sums);
  }
  void flush(NormalSums& sums) {
    sums.add(values_.data(), rows_.data(), static_cast<std::size_t>(taken_));
    taken_ = 0;
  }

  const RowMajor& x_;
  std::span<const double> y_;
  NormalSums sums_;
  std::vector<bool> used_;
  double count_ = 0.0;
  RowMajor rows_;
  std::array<double, tile> values_{};
  Eigen::Index taken_ = 0;
};

}  // namespace

std::optional<MainsPart> mains_part(std::span<const double> voltage, std::span<const double> current, double dt_s,
                                    std::size_t first, const Figures& figures, double noise) {
  if (!figures.mains_frequency_hz) return std::nullopt;
  const RowMajor x = regressors(current, dt_s, first, figures);
  const Eigen::Map<const Eigen::VectorXd> y(voltage.data(), static_cast<Eigen::Index>(voltage.size()));
  const std::vector<bool> in_reach = connected(voltage.size(), dt_s, first, figures);
  const double quarter_cycle = 0.25 / *figures.mains_frequency_hz / dt_s;

  Eigen::VectorXd fit;
  Eigen::VectorXd coefficients;
  UsedSamples samples(x, voltage);
  double limit = 1e300;
  for (int round = 0; round < 4; ++round) {
    samples.set([&](std::size_t s) {
      const auto k = static_cast<Eigen::Index>(s);
      return in_reach[s] && (round == 0 || !(std::abs(y[k] - fit[k]) > limit));
    });
    if (samples.count() < quarter_cycle) return std::nullopt;
    coefficients = samples.solve();
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
