#pragma once
// A current channel with one pole, block by block: it is fed with a current that goes straight from one end of the
// block to the other; what the mean has beyond that line (a pulse inside the block) reaches the end only where the
// block is short. What the pole lags behind is charge still to come.

#include <cmath>

#include "core/lamp/chain.h"
#include "core/lamp/dual.h"

namespace lampload {

template <class T>
class OnePole {
 public:
  explicit OnePole(const T& time_constant_s) : time_constant_s_(time_constant_s) {}

  /// The current that flows and is shown at the beginning of a record.
  void start(const T& drawn_a) { drawn_a_ = shown_a_ = drawn_a; }

  /// A block with this mean current and this current at its end. Returns the mean that is shown.
  T pass(const T& mean_a, const T& end_a, double length_s) {
    if (length_s != by_.length_s) by_ = shares(length_s);
    const double mean = value_of(mean_a);
    const double end = value_of(end_a);
    const double drawn = value_of(drawn_a_);
    const double shown = value_of(shown_a_);
    const double next = by_.end * end + by_.drawn * drawn + by_.shown * shown + by_.mean * mean;
    const double by_tau = by_.end_tau * end + by_.drawn_tau * drawn + by_.shown_tau * shown + by_.mean_tau * mean;
    const T next_a =
        chain(next, Partial<T>{by_.end, end_a}, Partial<T>{by_.drawn, drawn_a_}, Partial<T>{by_.shown, shown_a_},
              Partial<T>{by_.mean, mean_a}, Partial<T>{by_tau, time_constant_s_});
    const T seen_a = chain(mean - by_.lag * (next - shown), Partial<T>{1.0, mean_a}, Partial<T>{-by_.lag, next_a},
                           Partial<T>{by_.lag, shown_a_}, Partial<T>{(shown - next) / length_s, time_constant_s_});
    drawn_a_ = end_a;
    shown_a_ = next_a;
    return seen_a;
  }

  [[nodiscard]] const T& shown_a() const { return shown_a_; }

 private:
  /// Shares of the currents in what is shown at the end of a block, and their slopes by the time constant.
  struct Shares {
    double length_s = -1.0;
    double lag = 0.0;  ///< time constant over length
    double end = 0.0, drawn = 0.0, shown = 0.0, mean = 0.0;
    double end_tau = 0.0, drawn_tau = 0.0, shown_tau = 0.0, mean_tau = 0.0;
  };

  Shares shares(double length_s) const {
    const double tau = value_of(time_constant_s_);
    const double decay = std::exp(-length_s / tau);
    const double decay_tau = decay * length_s / (tau * tau);
    const double beyond = (1.0 - decay) * decay;
    const double beyond_tau = (1.0 - 2.0 * decay) * decay_tau;
    Shares by;
    by.length_s = length_s;
    by.lag = tau / length_s;
    const double lag_tau = 1.0 / length_s;
    by.end = 1.0 - by.lag * (1.0 - decay) - 0.5 * beyond;
    by.end_tau = -lag_tau * (1.0 - decay) + by.lag * decay_tau - 0.5 * beyond_tau;
    by.drawn = by.lag * (1.0 - decay) - decay - 0.5 * beyond;
    by.drawn_tau = lag_tau * (1.0 - decay) - by.lag * decay_tau - decay_tau - 0.5 * beyond_tau;
    by.shown = decay;
    by.shown_tau = decay_tau;
    by.mean = beyond;
    by.mean_tau = beyond_tau;
    return by;
  }

  T time_constant_s_;
  T drawn_a_{0.0};
  T shown_a_{0.0};
  Shares by_;
};

}  // namespace lampload
