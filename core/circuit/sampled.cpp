#include "core/circuit/sampled.h"

#include <algorithm>
#include <cmath>

namespace lampload {

std::vector<double> sampled(const std::vector<double>& time_s, const std::vector<double>& value, double from_s,
                            double interval_s, std::size_t count) {
  if (time_s.size() == 1) return std::vector<double>(count, value.front());
  std::vector<double> samples(count);
  std::size_t next = 1;
  for (std::size_t k = 0; k < count; ++k) {
    const double t = from_s + interval_s * static_cast<double>(k);
    while (next + 1 < time_s.size() && time_s[next] < t) ++next;
    const double dt = time_s[next] - time_s[next - 1];
    const double share = dt > 0.0 ? std::clamp((t - time_s[next - 1]) / dt, 0.0, 1.0) : 1.0;
    samples[k] = std::lerp(value[next - 1], value[next], share);
  }
  return samples;
}

}  // namespace lampload
