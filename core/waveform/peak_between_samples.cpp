#include "core/waveform/peak_between_samples.h"

#include <algorithm>
#include <cmath>

namespace lampload {

double peak_at_most_a(std::span<const double> current_a, double offset_a, std::size_t top) {
  const auto amperes = [&](std::size_t k) { return k < current_a.size() ? std::abs(current_a[k] - offset_a) : 0.0; };
  const double peak = amperes(top);
  const double before = top > 0 ? amperes(top - 1) : 0.0;
  const double after = amperes(top + 1);
  constexpr double rises_at_once = 0.5;  // of the peak: less was there one sample earlier
  constexpr double steepest_fall = 0.2;  // of the sample before: a fall that is faster is not seen
  if (before > rises_at_once * peak) {
    const double curvature = 2.0 * peak - before - after;
    const double rounded = curvature > 0.0 ? peak + (after - before) * (after - before) / (8.0 * curvature) : peak;
    // Narrow ones are more pointed than a parabola: where the flanks' lines meet, half way.
    const double flanks = top > 1 ? std::min(2.0 * before - amperes(top - 2), 2.0 * after - amperes(top + 2)) : peak;
    return std::max({peak, rounded, 0.5 * (peak + flanks)});
  }
  const auto drawn_back = [&](double here, double next) { return here * here / std::max(next, steepest_fall * here); };
  // The rise may have been in the sample before the highest, or, cut short, go on into the one behind it.
  return std::max({peak, drawn_back(peak, after), drawn_back(after, amperes(top + 2))});
}

}  // namespace lampload
