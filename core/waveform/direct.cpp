#include "core/waveform/direct.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "core/waveform/steady.h"

namespace lampload {
namespace {

constexpr double kOff = 0.35;             // of the top: below it a pulse is over,
constexpr double kOn = 0.65;              // above it begun
constexpr double kIrregular = 0.2;        // spread of the periods over their mean: noise, no pulses
constexpr double fewest_in_period = 4.0;  // samples
constexpr double kSwitched = 0.2;         // of the time: pulses that are longer between their levels are none
constexpr double kSteadyShare = 0.5;      // least over greatest voltage of DC that counts as steady
constexpr double kUnchanged = 0.03;       // of the last level
constexpr double kNothing = 0.05;         // of the current while fed: what flows while the lamp is off
constexpr double kSupplySide = 0.97;      // of the voltage while fed: a lamp's own falls by more when its current stops

double percentile(std::vector<double> values, double share) {
  const auto at = static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + at, values.end());
  return values[static_cast<std::size_t>(at)];
}

/// On and off of a switched signal.
struct Switching {
  std::vector<std::size_t> rises, falls;  ///< first samples at the new level
  double period_samples = 0.0;
};

std::optional<Switching> find_switching(std::span<const double> x, std::size_t live) {
  double top = 0.0;
  for (std::size_t k = live; k < x.size(); ++k) top = std::max(top, x[k]);
  Switching found;
  bool known = false;
  bool on = false;
  for (std::size_t k = live; k < x.size(); ++k) {
    const bool begins = x[k] >= kOn * top;
    const bool ends = x[k] <= kOff * top;
    if (begins && (!known || !on)) {
      if (known) found.rises.push_back(k);
      known = on = true;
    } else if (ends && (!known || on)) {
      if (known) found.falls.push_back(k);
      known = true;
      on = false;
    }
  }
  if (found.rises.size() < 2) return std::nullopt;
  const auto periods = static_cast<double>(found.rises.size() - 1);
  found.period_samples = static_cast<double>(found.rises.back() - found.rises.front()) / periods;
  double square = 0.0;
  for (std::size_t n = 1; n < found.rises.size(); ++n) {
    const double apart = static_cast<double>(found.rises[n] - found.rises[n - 1]) - found.period_samples;
    square += apart * apart;
  }
  // An edge anywhere between two samples is no irregularity.
  const double allowed = std::hypot(kIrregular * found.period_samples, 1.0);
  if (found.period_samples < fewest_in_period || std::sqrt(square / periods) > allowed) return std::nullopt;
  return found;
}

/// The later half of every stretch between the edges of one kind and the next of the other: settled samples.
std::vector<std::size_t> settled(const std::vector<std::size_t>& begins, const std::vector<std::size_t>& ends,
                                 const CycleWindow& window) {
  std::vector<std::size_t> samples;
  const auto last = window.first + static_cast<std::size_t>(window.samples());
  for (const std::size_t begin : begins) {
    const auto end = std::upper_bound(ends.begin(), ends.end(), begin);
    if (begin < window.first || end == ends.end() || *end > last) continue;
    const std::size_t from = begin + (*end - begin) / 2;
    for (std::size_t k = from; k + 1 < *end || k == from; ++k) samples.push_back(k);
  }
  return samples;
}

double mean_at(std::span<const double> x, const std::vector<std::size_t>& samples) {
  double sum = 0.0;
  for (const std::size_t k : samples) sum += x[k];
  return samples.empty() ? 0.0 : sum / static_cast<double>(samples.size());
}

double noise_at(std::span<const double> x, const std::vector<std::size_t>& samples) {
  double square = 0.0;
  double count = 0.0;
  for (std::size_t n = 1; n < samples.size(); ++n) {
    if (samples[n] != samples[n - 1] + 1) continue;
    const double change = x[samples[n]] - x[samples[n - 1]];
    square += change * change;
    count += 1.0;
  }
  return count > 0.0 ? std::sqrt(0.5 * square / count) : 0.0;
}

/// The last stretch in which neither channel changes: by means over a fiftieth of the record each.
CycleWindow last_steady(const Capture& capture, std::size_t live) {
  constexpr std::size_t kParts = 50;
  const std::size_t count = capture.samples() - live;
  const std::size_t length = std::max<std::size_t>(1, count / kParts);
  const auto mean = [&](const std::vector<double>& x, std::size_t end) {
    double sum = 0.0;
    for (std::size_t k = end - length; k < end; ++k) sum += x[k];
    return sum / static_cast<double>(length);
  };
  std::size_t end = capture.samples();
  const double volts = mean(capture.voltage_v, end);
  const double amperes = mean(capture.current_a, end);
  double noise = 0.0;  // of such a mean of the current
  for (std::size_t k = live + 1; k < capture.samples(); ++k)
    noise += std::pow(capture.current_a[k] - capture.current_a[k - 1], 2.0);
  noise = 3.0 * std::sqrt(0.5 * noise / static_cast<double>(count) / static_cast<double>(length));
  while (end >= live + 2 * length && std::abs(mean(capture.voltage_v, end - length) - volts) <= kUnchanged * volts &&
         std::abs(mean(capture.current_a, end - length) - amperes) <= kUnchanged * std::abs(amperes) + noise) {
    end -= length;
  }
  const std::size_t first = end >= live + 2 * length ? end - length : live;
  return {first, static_cast<double>(capture.samples() - first - 1), 1};
}

double ripple_percent(const std::vector<double>& x, const CycleWindow& window, double mean) {
  // Single samples do not count: from the first to the ninety-ninth percentile.
  const auto from = x.begin() + static_cast<std::ptrdiff_t>(window.first);
  const std::vector<double> part(from, x.end());
  return mean != 0.0 ? 100.0 * (percentile(part, 0.99) - percentile(part, 0.01)) / std::abs(mean) : 0.0;
}

void means(const Capture& capture, DirectFinding& found) {
  const auto mean = [&](const std::vector<double>& x) {
    return mean_over(found.window, capture.samples(), [&](std::size_t k) { return x[k]; });
  };
  found.direct.voltage_mean_v = mean(capture.voltage_v);
  found.direct.current_mean_a = mean(capture.current_a) - found.current_offset_a;
}

DirectFinding pulsed(const Capture& capture, const std::optional<TurnOn>& turn_on, const Switching& switching,
                     const std::vector<double>& signal) {
  DirectFinding found;
  found.window = steady_cycles(capture, turn_on, switching.period_samples);
  const std::vector<std::size_t> on = settled(switching.rises, switching.falls, found.window);
  const std::vector<std::size_t> off = settled(switching.falls, switching.rises, found.window);
  Direct& direct = found.direct;
  direct.on_voltage_v = mean_at(capture.voltage_v, on);
  const double on_a = mean_at(capture.current_a, on);
  const double off_a = mean_at(capture.current_a, off);
  const bool stops = std::abs(off_a) < kNothing * std::abs(on_a);
  if (stops) found.current_offset_a = off_a;
  direct.on_current_a = on_a - found.current_offset_a;
  found.current_noise_a = noise_at(capture.current_a, on);
  found.supply_side_voltage =
      stops && &signal == &capture.current_a && mean_at(capture.voltage_v, off) > kSupplySide * direct.on_voltage_v;
  means(capture, found);
  const double half = 0.5 * mean_at(signal, on);
  Pulses& pulses = direct.pulses.emplace();
  pulses.frequency_hz = capture.sample_rate_hz() / switching.period_samples;
  pulses.duty = mean_over(found.window, capture.samples(), [&](std::size_t k) { return signal[k] > half ? 1.0 : 0.0; });
  return found;
}

}  // namespace

std::optional<DirectFinding> find_direct(const Capture& capture, const std::optional<TurnOn>& turn_on) {
  const std::size_t live = turn_on ? turn_on->sample : 0;
  const std::vector<double>& voltage = capture.voltage_v;
  const double top = *std::max_element(voltage.begin() + static_cast<std::ptrdiff_t>(live), voltage.end());
  if (!(top > 0.0)) return std::nullopt;
  const auto between = std::count_if(voltage.begin() + static_cast<std::ptrdiff_t>(live), voltage.end(),
                                     [&](double v) { return v > 0.15 * top && v < 0.7 * top; });
  const bool two_levels = static_cast<double>(between) <= kSwitched * static_cast<double>(capture.samples() - live);
  if (const auto switching = find_switching(voltage, live); switching && two_levels) {
    return pulsed(capture, turn_on, *switching, voltage);
  }

  DirectFinding found;
  found.window = last_steady(capture, live);
  const std::vector<double> steady(voltage.begin() + static_cast<std::ptrdiff_t>(found.window.first), voltage.end());
  if (percentile(steady, 0.01) < kSteadyShare * percentile(steady, 0.99)) return std::nullopt;
  // Without a turn-on all of it must be steady or nearly so: what comes and goes at random is no supply.
  if (!turn_on) {
    if (percentile(voltage, 0.01) < kSteadyShare * percentile(voltage, 0.99)) return std::nullopt;
    found.window = {0, static_cast<double>(capture.samples() - 1), 1};
  }
  if (const auto switching = find_switching(capture.current_a, live)) {
    return pulsed(capture, turn_on, *switching, capture.current_a);
  }
  if (turn_on && turn_on->sample > 0) {
    std::vector<std::size_t> before;
    for (std::size_t k = 0; k < turn_on->sample - turn_on->sample / 20; ++k) before.push_back(k);
    found.current_offset_a = mean_at(capture.current_a, before);
  }
  std::vector<std::size_t> all;
  for (std::size_t k = found.window.first; k < capture.samples(); ++k) all.push_back(k);
  found.current_noise_a = noise_at(capture.current_a, all);
  means(capture, found);
  Direct& direct = found.direct;
  direct.on_voltage_v = direct.voltage_mean_v;
  direct.on_current_a = direct.current_mean_a;
  direct.voltage_ripple_percent = ripple_percent(voltage, found.window, direct.voltage_mean_v);
  direct.current_ripple_percent = ripple_percent(capture.current_a, found.window, direct.current_mean_a);
  return found;
}

}  // namespace lampload
