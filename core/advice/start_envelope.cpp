#include "core/advice/start_envelope.h"

#include <algorithm>
#include <cmath>

#include "core/circuit/network.h"

namespace lampload {

std::vector<double> start_envelope(const Path& path, std::span<const LampGroup> lamps, double phase_deg,
                                   int half_cycles) {
  const double half_s = 0.5 / path.frequency_hz;
  const double begin_s = phase_deg / 180.0 * half_s;
  Network network(path, lamps, begin_s, estimating);
  network.set_closed(true);
  std::vector<double> envelope;
  for (int k = 1; k <= half_cycles; ++k) {
    double highest_a = 0.0;
    network.run_to(begin_s + k * half_s, [&](const Instant& /*before*/, const Instant& after) {
      highest_a = std::max(highest_a, std::abs(after.switch_a));
      return true;
    });
    envelope.push_back(highest_a);
  }
  return envelope;
}

double highest_sum(std::span<const std::vector<double>> envelopes, int apart) {
  std::size_t last = 0;
  for (std::size_t i = 0; i < envelopes.size(); ++i) {
    last = std::max(last, i * static_cast<std::size_t>(apart) + envelopes[i].size());
  }
  double highest = 0.0;
  for (std::size_t slot = 0; slot < last; ++slot) {
    double sum = 0.0;
    for (std::size_t i = 0; i < envelopes.size(); ++i) {
      const std::size_t start = i * static_cast<std::size_t>(apart);
      if (slot < start || envelopes[i].empty()) continue;
      sum += envelopes[i][std::min(slot - start, envelopes[i].size() - 1)];
    }
    highest = std::max(highest, sum);
  }
  return highest;
}

}  // namespace lampload
