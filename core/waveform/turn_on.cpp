#include "core/waveform/turn_on.h"

#include <algorithm>
#include <cmath>

namespace lampload {
namespace {

constexpr double kActive = 0.15;          // of the running level
constexpr double kAboveRest = 2.0;        // times the flicker at rest
constexpr double kMostActive = 0.6;       // of the running level: a beginning that flickers more is no rest
constexpr double kLongestCycle = 0.0225;  // [s], a little over one cycle of 45 Hz

double mean(std::span<const double> x) {
  double sum = 0.0;
  for (const double value : x) sum += value;
  return x.empty() ? 0.0 : sum / static_cast<double>(x.size());
}

double largest(std::span<const double> x, double offset) {
  double top = 0.0;
  for (const double value : x) top = std::max(top, std::abs(value - offset));
  return top;
}

struct Start {
  std::size_t sample;
};

// The first sample that leaves an initial rest longer than any later one.
std::optional<Start> leaves_rest(std::span<const double> x, double interval_s) {
  const auto cycle = static_cast<std::size_t>(kLongestCycle / interval_s);
  const std::size_t tail = std::min(x.size() / 2, std::max<std::size_t>(3 * cycle, 1));
  if (tail < 8) return std::nullopt;
  const std::size_t early = std::max<std::size_t>(4, std::min(x.size() / 20, cycle / 10));
  // At rest the signal shows only its offset.
  const double offset = mean(x.first(early));
  const double running = std::max(largest(x.last(tail), mean(x.last(tail))), std::abs(mean(x.last(tail)) - offset));
  // A coarse digitiser flickers by a step or two at rest.
  const double active = std::max(kActive * running, kAboveRest * largest(x.first(early), offset));
  if (!(active > 0.0) || active > kMostActive * running) return std::nullopt;

  std::size_t first = 0;
  while (first < x.size() && std::abs(x[first] - offset) < active) ++first;
  if (first == x.size()) return std::nullopt;
  std::size_t longest = 0;
  std::size_t rest = 0;
  for (std::size_t k = x.size() - tail; k < x.size(); ++k) {
    rest = std::abs(x[k] - offset) < active ? rest + 1 : 0;
    longest = std::max(longest, rest);
  }
  const double needed = 1.3 * static_cast<double>(longest) + 1e-3 / interval_s;
  if (static_cast<double>(first) < std::max(needed, 8.0)) return std::nullopt;

  // Back to where it left the noise of the rest.
  const std::size_t quiet = first - std::min(first / 4, static_cast<std::size_t>(2.5e-3 / interval_s) + 1);
  const double level = mean(x.first(quiet));
  const double noise = largest(x.first(quiet), level);
  if (noise > 0.5 * active * 2.0) return std::nullopt;
  std::size_t sample = first;
  while (sample > 0 && std::abs(x[sample - 1] - level) > 1.2 * noise) --sample;
  return Start{sample};
}

}  // namespace

std::optional<TurnOn> find_turn_on(std::span<const double> voltage_v, std::span<const double> current_a,
                                   double interval_s) {
  const auto by_current = leaves_rest(current_a, interval_s);
  const auto by_voltage = leaves_rest(voltage_v, interval_s);
  if (!by_voltage) return by_current ? std::optional(TurnOn{by_current->sample, 0.0, true}) : std::nullopt;
  // A switch that closes just before a zero crossing connects too little voltage to be seen, and its surge is then
  // over.
  constexpr double kSurgeAhead = 3e-3;     // [s]
  constexpr double kChannelSkew = 100e-6;  // [s]; less is no surge
  TurnOn turn_on{by_voltage->sample, 0.0, false};
  if (by_current && by_current->sample < turn_on.sample) {
    const double ahead_s = static_cast<double>(turn_on.sample - by_current->sample) * interval_s;
    if (ahead_s > kChannelSkew && ahead_s < kSurgeAhead) turn_on.sample = by_current->sample;
  }
  return turn_on;
}

Inrush measure_inrush(std::span<const double> current_a, double offset_a, double interval_s, const TurnOn& turn_on,
                      double span_s) {
  const std::size_t from = turn_on.sample > 0 ? turn_on.sample - 1 : 0;
  const auto length = static_cast<std::size_t>(std::lround(span_s / interval_s));
  const std::size_t to = std::min(current_a.size(), turn_on.sample + std::max<std::size_t>(length, 1));
  const auto amperes = [&](std::size_t k) { return std::abs(current_a[k] - offset_a); };
  Inrush inrush;
  inrush.phase_deg = turn_on.phase_deg;
  std::size_t top = from;
  for (std::size_t k = from; k < to; ++k) {
    if (amperes(k) > amperes(top)) top = k;
    if (k + 1 < to) {
      const double a = current_a[k] - offset_a;
      const double b = current_a[k + 1] - offset_a;
      inrush.i2t_a2s += (a * a + a * b + b * b) / 3.0 * interval_s;  // linear between samples
    }
  }
  inrush.peak_a = amperes(top);
  const double half = 0.5 * inrush.peak_a;
  const auto crossing = [&](std::size_t inside, std::size_t outside) {
    const double fall = amperes(inside) - amperes(outside);
    return fall > 0.0 ? (amperes(inside) - half) / fall : 1.0;
  };
  std::size_t left = top;
  while (left > 0 && amperes(left - 1) >= half) --left;
  std::size_t right = top;
  while (right + 1 < current_a.size() && amperes(right + 1) >= half) ++right;
  double samples = static_cast<double>(right - left);
  if (left > 0) samples += crossing(left, left - 1);
  if (right + 1 < current_a.size()) samples += crossing(right, right + 1);
  inrush.width_s = samples * interval_s;
  return inrush;
}

}  // namespace lampload
