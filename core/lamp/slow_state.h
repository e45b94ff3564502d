#pragma once
// State variables that take far longer than a mains cycle, such as a temperature: where they settle, without waiting.

#include <algorithm>
#include <cmath>

namespace lampload {

/// Where a state with this time constant is heading, by what one cycle made of it.
template <class T>
T heading_of(const T& start, const T& end, double cycle_s, const T& time_constant_s) {
  using std::expm1;
  return start - (end - start) / expm1(-cycle_s / time_constant_s);
}

/// Finds the value from which a cycle leads back to itself: told what each cycle made of the value it began with, gives
/// the next value to begin with. A secant iteration on (heading - start), whose slope is -1 or steeper where what warms
/// the part fades as it warms.
class SlowState {
 public:
  double next(double start, double end, double cycle_s, double time_constant_s) {
    const double miss = heading_of(start, end, cycle_s, time_constant_s) - start;
    const double moved = start - last_start_;
    if (told_ && moved != 0.0) slope_ = std::clamp((miss - last_miss_) / moved, -50.0, -0.5);
    told_ = true;
    last_start_ = start;
    last_miss_ = miss;
    return std::clamp(start - miss / slope_, 0.8 * start, 1.25 * start);  // no guess is trusted further
  }
  /// By how much the value last told was off, as far as is known.
  [[nodiscard]] double off() const { return std::abs(last_miss_ / slope_); }

 private:
  bool told_ = false;
  double last_start_ = 0.0, last_miss_ = 0.0;
  double slope_ = -2.0;
};

}  // namespace lampload
