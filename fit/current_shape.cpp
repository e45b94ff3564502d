#include "fit/current_shape.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace lampload {

CurrentShape current_shape(const Capture& capture, const Figures& figures, const CaptureFit& fit) {
  constexpr double next_to_nothing = 0.1;  // of the fitted current's peak
  CurrentShape shape;
  shape.cut = figures.cut.edge != Edge::none;
  if (!figures.mains_frequency_hz || figures.turn_on) return shape;
  const std::size_t last = std::min(figures.steady_last, capture.samples());
  if (last <= figures.steady_first) return shape;
  const auto fitted = [&](std::size_t s) { return fit.fitted_current_a[s] - fit.current_offset_a; };
  double peak = 0.0;
  double square = 0.0;
  for (std::size_t s = figures.steady_first; s < last; ++s) {
    peak = std::max(peak, std::abs(fitted(s)));
    square += fitted(s) * fitted(s);
  }
  if (!(square > 0.0)) return shape;
  shape.crest_factor = peak / std::sqrt(square / static_cast<double>(last - figures.steady_first));

  // A pulse at a jump may be a sample early or late.
  const auto quiet = [&](std::size_t s) {
    const std::size_t after = std::min(s + 1, last - 1);
    for (std::size_t near = s > figures.steady_first ? s - 1 : s; near <= after; ++near) {
      if (!(std::abs(fitted(near)) < next_to_nothing * peak)) return false;
    }
    return true;
  };
  const double half_s = 0.5 / *figures.mains_frequency_hz;
  std::vector<double> missed;  // one a half cycle [V A samples]
  double whole = 0.0;
  for (std::size_t s = figures.steady_first; s < last; ++s) {
    const double time = static_cast<double>(s - figures.steady_first) * capture.sample_interval_s;
    const auto half = static_cast<std::size_t>(time / half_s + 1e-6);
    if (half >= missed.size()) missed.push_back(0.0);
    whole += capture.voltage_v[s] * (capture.current_a[s] - fit.current_offset_a);
    if (quiet(s)) missed.back() += capture.voltage_v[s] * (capture.current_a[s] - fit.fitted_current_a[s]);
  }
  const auto halves = static_cast<double>(missed.size());
  if (halves < 3.0 || !(whole > 0.0)) return shape;
  double sum = 0.0;
  for (const double one : missed) sum += one;
  double scatter = 0.0;
  for (const double one : missed) scatter += (one - sum / halves) * (one - sum / halves);
  shape.quiet_power_share = sum / whole;
  shape.quiet_power_error = std::sqrt(scatter * halves / (halves - 1.0)) / whole;
  return shape;
}

}  // namespace lampload
