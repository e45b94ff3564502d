#pragma once
// Quadratics through windows of samples, each found in a time that does not depend on the window's width: sums that run
// along with the window.

#include <cstddef>
#include <span>
#include <vector>

namespace lampload {

/// c0 + c1 t + c2 t^2, t counted in samples from the middle of its window.
struct LocalQuadratic {
  double middle = 0.0;
  double c0 = 0.0, c1 = 0.0, c2 = 0.0;
  double scatter = 0.0;  ///< rms of what it leaves in its window, three degrees of freedom taken off

  [[nodiscard]] double at(std::size_t sample) const {
    const double t = static_cast<double>(sample) - middle;
    return c0 + t * (c1 + t * c2);
  }
};

/// Variance of the quadratic through samples [first, last] at one of them, for white noise of unit variance.
double quadratic_gain(std::size_t first, std::size_t last, std::size_t at);

/// Least-squares quadratics through one window after the other.
class RunningQuadratic {
 public:
  explicit RunningQuadratic(std::span<const double> samples) : y_(samples) {}

  /// Through samples [first, last], four or more. Neither end may lie before that of the window asked for before.
  LocalQuadratic through(std::size_t first, std::size_t last);

 private:
  void begin_at(std::size_t first, std::size_t last);
  void count(std::size_t sample, double sign);

  std::span<const double> y_;
  std::size_t first_ = 1, last_ = 0;  ///< what the sums hold; at first nothing
  double origin_ = 0.0;               ///< place that the sums are about,
  double level_ = 0.0;                ///< and value
  double sum_ = 0.0, by_t_ = 0.0, by_tt_ = 0.0, square_ = 0.0;
};

/// Finds kinks: three neighbours in a window whose distances from its quadratic add up to more than a limit.
class KinkTest {
 public:
  KinkTest(std::span<const double> samples, double limit);

  /// Is there a kink in [first, last]? Neither end may lie before that of the window asked for before.
  bool kinked(const LocalQuadratic& through, std::size_t first, std::size_t last);

 private:
  /// Sum of the distances of the three samples up to `last_of_three`.
  [[nodiscard]] double distance(const LocalQuadratic& from, std::size_t last_of_three) const;

  std::vector<double> three_;  ///< sum of each sample and the two before it
  double limit_;
  // The last window without a kink, and a bound on the distances in it: where the quadratic has hardly moved since then
  // they need not be looked at again.
  bool known_ = false;
  LocalQuadratic seen_;
  std::size_t seen_last_ = 0;
  double bound_ = 0.0;
  std::size_t kink_ = 0;  ///< where the last one was found
};

}  // namespace lampload
