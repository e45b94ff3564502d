#include "core/lamp/half_cycle.h"

#include <algorithm>
#include <cmath>

namespace lampload {

std::optional<HalfCycle> read_half_cycle(const StartHints& hints) {
  const std::vector<double>& v = hints.half_cycle_v;
  const std::vector<double>& i = hints.half_cycle_a;
  if (v.empty() || i.size() != v.size() || hints.frequency_hz <= 0.0) return std::nullopt;
  const std::size_t count = v.size();
  const double per_second = hints.frequency_hz * 2.0 * static_cast<double>(count);
  const double least_v = 0.02 * *std::max_element(v.begin(), v.end());
  const auto connected = [&](std::size_t k) { return v[k] > least_v; };
  const auto slope = [&](std::size_t k) {
    const std::size_t before = k > 0 ? k - 1 : k;
    const std::size_t after = std::min(k + 1, count - 1);
    return (v[after] - v[before]) / static_cast<double>(after - before) * per_second;
  };

  HalfCycle seen;
  double product = 0.0, square = 0.0, pairs = 0.0;
  for (std::size_t k = 0; k < count / 2; ++k) {
    const std::size_t mirror = count - 1 - k;
    if (!connected(k) || !connected(mirror)) continue;
    const double steeper = slope(k) - slope(mirror);
    product += (i[k] - i[mirror]) * steeper;
    square += steeper * steeper;
    pairs += 1.0;
  }
  const bool both_sides = hints.cut_deg < 5.0 && pairs > 0.0;
  if (both_sides && square > 0.0) seen.capacitance_f = std::max(0.0, product / square);
  const auto plain = [&](std::size_t k) { return i[k] - seen.capacitance_f * slope(k); };

  std::vector<std::size_t> order;
  double difference = 0.0, current = 0.0;
  for (std::size_t k = 0; k < count; ++k) {
    if (!connected(k)) continue;
    order.push_back(k);
    const double apart = plain(k) - plain(count - 1 - k);
    difference += apart * apart;
    current += plain(k) * plain(k);
  }
  if (both_sides && current > 0.0) seen.loop = std::sqrt(difference / current);
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return v[a] < v[b]; });
  for (const std::size_t k : order) {
    seen.voltage_v.push_back(v[k]);
    seen.current_a.push_back(plain(k));
  }
  return seen;
}

}  // namespace lampload
