#pragma once
// How a junction heats within a surge.

#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>

namespace lampload {

/// A junction on a half space: heat that flows straight inwards makes a rise that grows with the square root of time
/// under constant power, Z(t) = Z(10 ms) * sqrt(t / 10 ms). That holds for single pulses up to some 10 ms, where data
/// sheets show the same slope. Here as a chain of time constants a decade apart, which follows the law from 1 us to 50
/// ms within 1 %, and takes any course of the power.
class PulseHeat {
 public:
  /// After a pulse of 10 ms [K/W]; 0: nothing is counted.
  explicit PulseHeat(double rise_10ms_k_per_w) : scale_(rise_10ms_k_per_w / std::sqrt(10e-3)) {}

  void step(double power_w, double dt_s) {
    if (scale_ == 0.0) return;
    // sqrt(t) = 1 / (2 sqrt(pi)) * integral of (1 - exp(-t / tau)) sqrt(tau) over ln(tau)
    constexpr double weight = 0.5 * std::numbers::inv_sqrtpi * std::numbers::ln10;
    const double drive = scale_ * weight * power_w;
    double tau_s = fastest_s;
    double rise_k = 0.0;
    for (double& part_k : parts_k_) {
      part_k += (drive * std::sqrt(tau_s) - part_k) * -std::expm1(-dt_s / tau_s);
      rise_k += part_k;
      tau_s *= 10.0;
    }
    // all slower ones still rise in a straight line: the sum of 1 / sqrt(tau) from here on
    slow_k_ += drive * dt_s / std::sqrt(tau_s) / (1.0 - std::sqrt(0.1));
    peak_k_ = std::fmax(peak_k_, rise_k + slow_k_);
  }
  /// Highest rise so far.
  [[nodiscard]] double peak_k() const { return peak_k_; }

 private:
  static constexpr double fastest_s = 1e-8;
  double scale_;
  std::array<double, 9> parts_k_{};  // to 1 s
  double slow_k_ = 0.0;
  double peak_k_ = 0.0;
};

}  // namespace lampload
