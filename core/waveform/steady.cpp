#include "core/waveform/steady.h"

#include <algorithm>
#include <cmath>

namespace lampload {
namespace {

CycleWindow part_of(const CycleWindow& window, std::size_t from, std::size_t count) {
  const auto skipped = static_cast<std::size_t>(std::lround(static_cast<double>(from) * window.cycle_samples));
  return {window.first + skipped, window.cycle_samples, count};
}

CycleWindow last_unchanged(const CycleWindow& window, const std::vector<double>& rms) {
  const std::size_t compared = std::min<std::size_t>(3, rms.size());
  double level = 0.0;
  for (std::size_t k = rms.size() - compared; k < rms.size(); ++k) level += rms[k] / static_cast<double>(compared);
  std::size_t keep = 1;
  while (keep < rms.size() && std::abs(rms[rms.size() - 1 - keep] - level) <= 0.03 * level) ++keep;
  return part_of(window, rms.size() - keep, keep);
}

}  // namespace

std::vector<double> cycle_currents(const Capture& capture, const CycleWindow& window) {
  std::vector<double> rms;
  for (std::size_t cycle = 0; cycle < window.cycles; ++cycle) {
    const CycleWindow one = part_of(window, cycle, 1);
    const auto at = [&](std::size_t k) { return capture.current_a[k]; };
    const double mean = mean_over(one, capture.samples(), at);
    const auto square = [&](std::size_t k) { return (at(k) - mean) * (at(k) - mean); };
    rms.push_back(std::sqrt(mean_over(one, capture.samples(), square)));
  }
  return rms;
}

CycleWindow steady_cycles(const Capture& capture, const std::optional<TurnOn>& turn_on, double cycle_samples) {
  const std::size_t live = turn_on ? turn_on->sample : 0;
  CycleWindow window = whole_cycles(live, capture.samples() - live, cycle_samples);
  if (window.cycles < 2) return window;
  if (turn_on) {
    const auto needed = static_cast<std::size_t>(std::ceil(window.samples()));
    window.first = capture.samples() - std::min(capture.samples(), needed);
    return last_unchanged(window, cycle_currents(capture, window));
  }
  const std::vector<double> rms = cycle_currents(capture, window);
  const double top = *std::max_element(rms.begin(), rms.end());
  constexpr double kSwitchedOff = 0.05;  // of the largest; less is pick-up and standby
  if (*std::min_element(rms.begin(), rms.end()) > kSwitchedOff * top) return window;
  std::size_t from = 0;
  std::size_t best_from = 0;
  std::size_t best = 0;
  for (std::size_t k = 0; k < rms.size(); ++k) {
    const bool flows = rms[k] > kSwitchedOff * top;
    const bool goes_on = flows && k > 0 && std::abs(rms[k] - rms[k - 1]) <= 0.1 * rms[k - 1];
    if (!goes_on) from = k;
    if (flows && k + 1 - from > best) {
      best = k + 1 - from;
      best_from = from;
    }
  }
  return best > 0 ? part_of(window, best_from, best) : window;
}

}  // namespace lampload
