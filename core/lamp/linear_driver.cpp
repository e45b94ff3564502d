#include "core/lamp/linear_driver.h"

#include <limits>
#include <numbers>

#include "core/lamp/half_cycle.h"

namespace lampload::linear_driver {
namespace {

/// The points where a staircase of `taps` risers has least squares: index of the first point of each tread above the
/// lowest, which is zero.
struct Staircase {
  std::vector<std::size_t> first;
  double square = 0.0;  ///< what it leaves
};

class Sums {
 public:
  explicit Sums(const std::vector<double>& y) : sum_(y.size() + 1, 0.0), square_(y.size() + 1, 0.0) {
    for (std::size_t k = 0; k < y.size(); ++k) {
      sum_[k + 1] = sum_[k] + y[k];
      square_[k + 1] = square_[k] + y[k] * y[k];
    }
  }
  [[nodiscard]] double mean(std::size_t from, std::size_t to) const {
    return (sum_[to] - sum_[from]) / static_cast<double>(to - from);
  }
  /// About zero, or about the mean of the points [from, to).
  [[nodiscard]] double about_zero(std::size_t from, std::size_t to) const { return square_[to] - square_[from]; }
  [[nodiscard]] double about_mean(std::size_t from, std::size_t to) const {
    const double sum = sum_[to] - sum_[from];
    return about_zero(from, to) - sum * sum / static_cast<double>(to - from);
  }

 private:
  std::vector<double> sum_, square_;
};

/// By dynamic programming: the best staircase up to each point for one tread more each time.
Staircase nearest_staircase(const Sums& sums, std::size_t points, std::size_t taps) {
  constexpr double never = std::numeric_limits<double>::infinity();
  std::vector<double> least(points + 1);
  for (std::size_t to = 0; to <= points; ++to) least[to] = sums.about_zero(0, to);
  std::vector<std::vector<std::size_t>> begins;
  for (std::size_t tread = 0; tread < taps; ++tread) {
    std::vector<double> next(points + 1, never);
    std::vector<std::size_t> begin(points + 1, 0);
    for (std::size_t to = 1; to <= points; ++to) {
      for (std::size_t from = 0; from < to; ++from) {
        const double square = least[from] + sums.about_mean(from, to);
        if (square < next[to]) next[to] = square, begin[to] = from;
      }
    }
    least = std::move(next);
    begins.push_back(std::move(begin));
  }
  Staircase found;
  found.square = least[points];
  std::size_t to = points;
  for (std::size_t tread = taps; tread-- > 0;) {
    to = begins[tread][to];
    found.first.insert(found.first.begin(), to);
  }
  return found;
}

}  // namespace

std::vector<std::vector<double>> starts(const StartHints& hints, std::size_t taps) {
  // Of the current's rms, what a staircase may leave: real ones some per cent, four treads across a sine 9 %.
  constexpr double most_left = 0.07;
  constexpr double drop_v = 1.6;
  const auto seen = read_half_cycle(hints);
  if (!seen || seen->voltage_v.size() < 8 * taps || seen->loop.value_or(0.0) > widest_loop) return {};
  if (hints.active_power_w < least_power_factor * hints.voltage_rms_v * hints.current_rms_a) return {};
  const std::size_t points = seen->voltage_v.size();

  // A bleed resistance tilts the treads: each of these is taken out in turn.
  constexpr double usual_bleed_ohm = 1e6;
  std::vector<double> treads_a = seen->current_a;
  double bleed_ohm = usual_bleed_ohm;
  double least = std::numeric_limits<double>::infinity();
  Staircase stairs;
  for (const double ohm : {usual_bleed_ohm, 2e5, 1e5, 5e4, 2.5e4}) {
    std::vector<double> level_a = seen->current_a;
    for (std::size_t k = 0; k < points && ohm < usual_bleed_ohm; ++k) level_a[k] -= seen->voltage_v[k] / ohm;
    const Sums sums(level_a);
    const double all = sums.about_zero(0, points);
    Staircase nearest = nearest_staircase(sums, points, taps);
    if (!(nearest.square < least * all)) continue;
    least = nearest.square / all;
    bleed_ohm = ohm;
    stairs = std::move(nearest);
    treads_a = std::move(level_a);
  }
  if (stairs.first.empty() || least > most_left * most_left) return {};

  const Sums sums(treads_a);
  std::vector<double> start = {drop_v, 0.0, bleed_ohm};
  for (std::size_t k = 0; k < taps; ++k) {
    const std::size_t from = stairs.first[k];
    const std::size_t to = k + 1 < taps ? stairs.first[k + 1] : points;
    const double below_v = from > 0 ? seen->voltage_v[from - 1] : 0.0;
    const double riser_v = 0.5 * (below_v + seen->voltage_v[from]) - drop_v;
    start.push_back(std::clamp(riser_v, 10.0, 600.0));
    start.push_back(std::clamp(sums.mean(from, to), 1e-4, 20.0));
  }
  return {start};
}

std::vector<DerivedFigure> derived(std::span<const double> p, const OperatingPoint& at) {
  const std::size_t taps = (p.size() - shared) / 2;
  constexpr int steps = 2000;  // of a quarter cycle
  double power = 0.0, square = 0.0, lit = 0.0;
  const bool dc = at.frequency_hz <= 0.0;
  for (int n = 0; n < steps; ++n) {
    const double angle = 0.5 * std::numbers::pi * (n + 0.5) / steps;
    const double v = at.voltage_v * (dc ? 1.0 : std::numbers::sqrt2 * std::sin(angle));
    double current = v / p[2];
    double before = 0.0;
    double lowest_v = 0.0;
    for (std::size_t k = 0; k < taps; ++k) {
      const double tap_v = std::max(p[shared + 2 * k], lowest_v);
      lowest_v = (1.0 + knee_share) * tap_v;
      const double share = (v - p[0] - tap_v) / (knee_share * tap_v) + 0.5;
      current += std::clamp(share, 0.0, 1.0) * (p[shared + 2 * k + 1] - before);
      before = p[shared + 2 * k + 1];
      if (k == 0 && share > 0.5) lit += 1.0 / steps;
    }
    power += v * current / steps;
    square += current * current / steps;
  }
  const double displaced = at.voltage_v * 2.0 * std::numbers::pi * at.frequency_hz * p[1];
  return {{"rated_power_w", "W", power},
          {"power_factor", "", power / (at.voltage_v * std::sqrt(square + displaced * displaced))},
          {"lit_share", "", lit}};
}

double light(std::span<const double> p, double voltage_v) {
  const double height_v = std::abs(voltage_v) - p[0];
  double lit = 0.0;
  double lowest_v = 0.0;
  for (std::size_t j = shared; j + 1 < p.size(); j += 2) {
    const double tap_v = std::max(p[j], lowest_v);
    lowest_v = (1.0 + knee_share) * tap_v;
    const double share = std::clamp((height_v - tap_v) / (knee_share * tap_v) + 0.5, 0.0, 1.0);
    lit = std::lerp(lit, tap_v * p[j + 1], share);
  }
  return lit;
}

bool plausible(std::span<const double> p, const OperatingPoint& at) {
  const double crest_v = at.voltage_v * (at.frequency_hz <= 0.0 ? 1.0 : std::numbers::sqrt2);
  double before_v = 0.0;
  for (std::size_t j = shared; j < p.size(); j += 2) {
    if (p[j] < (1.0 + knee_share) * before_v || p[j] > crest_v) return false;
    before_v = p[j];
  }
  // a first tap in the foot of the voltage is a current that does not depend on it at all
  return p[shared] > 0.1 * crest_v;
}

}  // namespace lampload::linear_driver
