#include "fit/local_quadratic.h"

#include <algorithm>
#include <cmath>

namespace lampload {
namespace {

/// Sums of t^0, t^2 and t^4 over the samples of a window, t from its middle.
struct Moments {
  double s0, s2, s4;
};

Moments moments(std::size_t first, std::size_t last) {
  const auto n = static_cast<double>(last - first + 1);
  const double s2 = n * (n * n - 1.0) / 12.0;
  return {n, s2, s2 * (3.0 * n * n - 7.0) / 20.0};
}

}  // namespace

double quadratic_gain(std::size_t first, std::size_t last, std::size_t at) {
  const auto [s0, s2, s4] = moments(first, last);
  const double t = static_cast<double>(at) - 0.5 * static_cast<double>(first + last);
  const double tt = t * t;
  return (s4 - 2.0 * s2 * tt + s0 * tt * tt) / (s0 * s4 - s2 * s2) + tt / s2;
}

void RunningQuadratic::count(std::size_t sample, double sign) {
  const double t = static_cast<double>(sample) - origin_;
  const double y = y_[sample] - level_;
  sum_ += sign * y;
  by_t_ += sign * y * t;
  by_tt_ += sign * y * t * t;
  square_ += sign * y * y;
}

void RunningQuadratic::begin_at(std::size_t first, std::size_t last) {
  const std::size_t middle = (first + last) / 2;
  origin_ = static_cast<double>(middle);
  level_ = y_[middle];
  sum_ = by_t_ = by_tt_ = square_ = 0.0;
  for (std::size_t k = first; k <= last; ++k) count(k, 1.0);
}

LocalQuadratic RunningQuadratic::through(std::size_t first, std::size_t last) {
  LocalQuadratic fit;
  fit.middle = 0.5 * static_cast<double>(first + last);
  // Sums about a distant place would lose digits.
  const bool far = std::abs(fit.middle - origin_) > 0.5 * static_cast<double>(last - first);
  if (first_ > last_ || first > last_ || far) {
    begin_at(first, last);
  } else {
    for (std::size_t k = last_ + 1; k <= last; ++k) count(k, 1.0);
    for (std::size_t k = first_; k < first; ++k) count(k, -1.0);
  }
  first_ = first;
  last_ = last;

  const auto [s0, s2, s4] = moments(first, last);
  const double d = fit.middle - origin_;
  const double b0 = sum_;
  const double b1 = by_t_ - d * sum_;
  const double b2 = by_tt_ - d * (2.0 * by_t_ - d * sum_);
  const double det = s0 * s4 - s2 * s2;
  fit.c0 = (b0 * s4 - b2 * s2) / det;
  fit.c1 = b1 / s2;
  fit.c2 = (b2 * s0 - b0 * s2) / det;
  const double left = std::max(0.0, square_ - fit.c0 * b0 - fit.c1 * b1 - fit.c2 * b2);
  fit.scatter = std::sqrt(left / std::max(1.0, s0 - 3.0));
  fit.c0 += level_;
  return fit;
}

KinkTest::KinkTest(std::span<const double> samples, double limit) : three_(samples.size(), 0.0), limit_(limit) {
  for (std::size_t k = 2; k < samples.size(); ++k) three_[k] = samples[k - 2] + samples[k - 1] + samples[k];
}

double KinkTest::distance(const LocalQuadratic& from, std::size_t last_of_three) const {
  const double t = static_cast<double>(last_of_three) - 1.0 - from.middle;
  return std::abs(three_[last_of_three] - 3.0 * (from.c0 + t * from.c1 + (t * t + 2.0 / 3.0) * from.c2));
}

bool KinkTest::kinked(const LocalQuadratic& through, std::size_t first, std::size_t last) {
  if (known_ && first <= seen_last_) {
    // By how much the quadratic has moved, at most, anywhere in the window.
    const double by = through.middle - seen_.middle;
    const double c0 = through.c0 - (seen_.c0 + by * (seen_.c1 + by * seen_.c2));
    const double c1 = through.c1 - (seen_.c1 + 2.0 * by * seen_.c2);
    const double c2 = through.c2 - seen_.c2;
    const double reach = 0.5 * static_cast<double>(last - first);
    const double moved =
        std::max(std::abs(c0 + 2.0 / 3.0 * c2), std::abs(c0 + (reach * reach + 2.0 / 3.0) * c2)) + reach * std::abs(c1);
    double bound = bound_ + 3.0 * moved;
    for (std::size_t k = std::max(seen_last_ + 1, first + 2); k <= last; ++k)
      bound = std::max(bound, distance(through, k));
    if (bound <= limit_) {
      seen_ = through;
      seen_last_ = last;
      bound_ = bound;
      return false;
    }
  }
  known_ = false;
  if (kink_ >= first + 2 && kink_ <= last && distance(through, kink_) > limit_) return true;
  double largest = 0.0;
  for (std::size_t k = first + 2; k <= last; ++k) {
    const double here = distance(through, k);
    if (here > limit_) {
      kink_ = k;
      return true;
    }
    largest = std::max(largest, here);
  }
  known_ = true;
  seen_ = through;
  seen_last_ = last;
  bound_ = largest;
  return false;
}

}  // namespace lampload
