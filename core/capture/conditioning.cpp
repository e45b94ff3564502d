#include "core/capture/conditioning.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "core/capture/between_samples.h"
#include "core/capture/lost_samples.h"
#include "core/capture/polarity.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr double kLargestValue = 1e9;  // volts or amperes no lamp capture can hold

void scale(std::vector<double>& values, double factor, double offset) {
  if (factor == 1.0 && offset == 0.0) return;
  for (double& value : values) {
    const bool lost = !std::isfinite(value);
    value = value * factor - offset;
    // What the factor alone makes too large was not lost by the instrument.
    if (!lost && !std::isfinite(value)) value = std::numeric_limits<double>::max();
  }
}

void require_sane(const Capture& capture, const std::vector<double>& values, const char* what) {
  const auto bad = std::find_if(values.begin(), values.end(), [](double v) { return std::abs(v) > kLargestValue; });
  if (bad == values.end()) return;
  throw Error(ErrorCode::input_refused,
              fmt::format("sample {} of the {} is {:.3g} after scaling, which no lamp capture can hold",
                          bad - values.begin() + 1, what, *bad),
              Place{.file = capture.file}, "Check the column, its unit and the scale.");
}

// The current shows every event later by `delay`: its sample k belongs to the instant t_k - delay. Whole samples are
// shifted; the rest is taken by reading the voltage, the smoother of the two, between its samples.
void take_out_delay(Capture& capture, double delay) {
  const double in_samples = delay / capture.sample_interval_s;
  const auto count = static_cast<double>(capture.samples());
  if (!(std::abs(in_samples) < 0.5 * count)) {
    throw Error(ErrorCode::input_refused,
                fmt::format("a current delay of {:.3g} s is longer than half of the capture", delay),
                Place{.file = capture.file},
                "Check --current-delay, which is in seconds, and what the file says of its channels.");
  }
  std::vector<double> voltage;
  std::vector<double> current;
  const double first = std::max(0.0, std::ceil(in_samples));
  const double last = std::min(count - 1.0, count - 1.0 + std::floor(in_samples));
  std::vector<std::uint8_t> clipped;
  for (double k = first; k <= last; k += 1.0) {
    voltage.push_back(between_samples(capture.voltage_v, k - in_samples));
    current.push_back(capture.current_a[static_cast<std::size_t>(k)]);
    if (capture.clipped.empty()) continue;
    const auto mark = [&](double at) { return capture.clipped[static_cast<std::size_t>(at)]; };
    const int of_voltage = (mark(std::floor(k - in_samples)) | mark(std::ceil(k - in_samples))) & 1;
    clipped.push_back(static_cast<std::uint8_t>((mark(k) & 2) | of_voltage));
  }
  capture.start_time_s += (first - in_samples) * capture.sample_interval_s;
  capture.voltage_v = std::move(voltage);
  capture.current_a = std::move(current);
  capture.clipped = std::move(clipped);
}

// DC probed the wrong way round. The clamp is looked at afterwards.
void turn_reversed_supply(Capture& capture) {
  if (one_sign(capture.voltage_v).value_or(1.0) > 0.0) return;
  for (double& value : capture.voltage_v) value = -value;
  for (double& value : capture.current_a) value = -value;
  capture.notes.push_back({"reversed_voltage", Severity::note,
                           "The voltage is DC and negative: voltage and current were turned. Check the polarity of the "
                           "voltage probe."});
}

// Power of the alternating parts, unless the voltage is mainly DC: an offset of the clamp must not count.
void turn_reversed_clamp(Capture& capture) {
  const auto n = static_cast<double>(capture.samples());
  double v = 0.0;
  double i = 0.0;
  double vv = 0.0;
  double ii = 0.0;
  double vi = 0.0;
  for (std::size_t k = 0; k < capture.samples(); ++k) {
    v += capture.voltage_v[k];
    i += capture.current_a[k];
    vv += capture.voltage_v[k] * capture.voltage_v[k];
    ii += capture.current_a[k] * capture.current_a[k];
    vi += capture.voltage_v[k] * capture.current_a[k];
  }
  const bool direct = v * v > 0.05 * n * vv;
  const double power = (direct ? vi : vi - v * i / n) / n;
  const double volts = std::sqrt((direct ? vv : vv - v * v / n) / n);
  const double amperes = std::sqrt((direct ? ii : ii - i * i / n) / n);
  // A lamp behind a series capacitor has a power factor of little more than this; no probe is late by six degrees.
  constexpr double kClearlyNegative = -0.1;
  if (!(power < kClearlyNegative * volts * amperes)) return;
  for (double& value : capture.current_a) value = -value;
  capture.notes.push_back(
      {"reversed_clamp", Severity::warning,
       fmt::format("The mean power was negative ({:.3g} W, power factor {:.2f}): the current was turned. Check the "
                   "direction of the clamp, or that voltage and current belong to the same lamp.",
                   power, power / (volts * amperes))});
}

/// Ends of a signed digitiser lie at its first or last code, or that many codes apart where an offset has been taken
/// off.
bool ends_range(double value, double other_end, double step) {
  if (!(step > 0.0)) return false;
  constexpr double exact = 0.05;
  const double code = std::abs(value) / step;
  const double span = std::abs(value - other_end) / step;
  for (const double end : {128.0, 512.0, 2048.0, 8192.0, 32768.0}) {
    if (std::abs(code - end) < exact || std::abs(code - end + 1.0) < exact) return true;
    if (std::abs(span - 2.0 * end + 1.0) < exact || std::abs(span - 2.0 * end + 2.0) < exact) return true;
  }
  return false;
}

/// Equal samples [from, to) at the end of a range: has a smooth crest been cut off there?
bool crest_is_cut(std::span<const double> values, std::size_t from, std::size_t to, double steep) {
  // Half of the run's length further out, a smooth crest has fallen by few steps, a clipped one by many.
  const std::size_t reach = std::max<std::size_t>((to - from) / 2, 1);
  return from >= reach && to + reach <= values.size() && std::abs(values[from - reach] - values[from]) > steep &&
         std::abs(values[to - 1 + reach] - values[from]) > steep;
}

/// The same of a pulse that jumps up, or breaks off: it does not stay within a step for several samples to fall by
/// many steps right behind them.
bool pulse_is_cut(std::span<const double> values, std::size_t from, std::size_t to, double step, double range) {
  constexpr double jumps = 0.125;  // of the range, from one sample to the next
  constexpr double fallen = 4.0;   // steps
  const std::size_t reach = (to - from) / 2 + 1;
  if (from < reach || to + reach > values.size()) return false;
  const auto away = [&](std::size_t k) { return std::abs(values[k] - values[from]); };
  return (away(from - 1) > jumps * range || away(to) > jumps * range) && away(from - reach) > fallen * step &&
         away(to - 1 + reach) > fallen * step;
}

}  // namespace

double digitiser_step(std::span<const double> values) {
  constexpr std::size_t kEnough = 100000;
  std::vector<double> levels(values.begin(),
                             values.begin() + static_cast<std::ptrdiff_t>(std::min(values.size(), kEnough)));
  std::sort(levels.begin(), levels.end());
  const double range = levels.empty() ? 0.0 : levels.back() - levels.front();
  if (!(range > 0.0)) return 0.0;
  // Text keeps six digits or so: differences below that are the same level.
  const double same = 2e-6 * std::max(std::abs(levels.front()), std::abs(levels.back()));
  std::vector<double> gaps;
  for (std::size_t k = 1; k < levels.size(); ++k) {
    if (levels[k] - levels[k - 1] > same) gaps.push_back(levels[k] - levels[k - 1]);
  }
  if (gaps.size() < 4) return gaps.empty() ? 0.0 : *std::min_element(gaps.begin(), gaps.end());
  std::sort(gaps.begin(), gaps.end());
  double step = gaps[gaps.size() / 20];
  double counted = 0.0;
  double steps = 0.0;
  std::size_t fitting = 0;
  for (const double gap : gaps) {
    const double multiple = std::round(gap / step);
    if (multiple >= 1.0 && std::abs(gap / step - multiple) <= 0.12) {
      ++fitting;
      counted += gap;
      steps += multiple;
    }
  }
  constexpr double kNearlyAll = 0.9;
  if (static_cast<double>(fitting) < kNearlyAll * static_cast<double>(gaps.size())) return 0.0;
  // As many levels as samples is no grid that could be told from chance.
  step = counted / steps;
  return range / step > 0.5e6 ? 0.0 : step;
}

std::size_t mark_clipped(std::span<const double> values, double step, std::uint8_t bit,
                         std::vector<std::uint8_t>& marks) {
  constexpr std::size_t kShortestRun = 4;
  constexpr std::size_t kShortestAtLastCode = 2;
  if (values.size() < 2 * kShortestRun) return 0;
  const auto [low, high] = std::minmax_element(values.begin(), values.end());
  const double range = *high - *low;
  if (!(range > 0.0)) return 0;
  const double same = step > 0.0 ? 0.3 * step : 1e-7 * range;
  const double steep = std::max(8.0 * step, 0.02 * range);
  std::size_t marked = 0;
  for (const double end : {*low, *high}) {
    const bool last_code = ends_range(end, end == *low ? *high : *low, step);
    const std::size_t shortest = last_code ? kShortestAtLastCode : kShortestRun;
    for (std::size_t from = 0; from < values.size();) {
      if (std::abs(values[from] - end) > same) {
        ++from;
        continue;
      }
      std::size_t to = from;
      while (to < values.size() && std::abs(values[to] - end) <= same) ++to;
      if (to - from >= shortest &&
          (crest_is_cut(values, from, to, steep) || (last_code && pulse_is_cut(values, from, to, step, range)))) {
        marks.resize(values.size(), 0);
        for (std::size_t k = from; k < to; ++k) marks[k] |= bit;
        marked += to - from;
      }
      from = to;
    }
  }
  return marked;
}

void condition(Capture& capture, const CaptureOptions& options) {
  const double sign = options.invert_current ? -1.0 : 1.0;
  scale(capture.voltage_v, options.voltage_scale, options.voltage_offset_v);
  scale(capture.current_a, sign * options.current_scale, sign * options.current_offset_a);
  fill_lost_samples(capture);
  require_sane(capture, capture.voltage_v, "voltage");
  require_sane(capture, capture.current_a, "current");
  // Steps before the delay is taken out: interpolation blurs them.
  capture.voltage_step_v = digitiser_step(capture.voltage_v);
  capture.current_step_a = digitiser_step(capture.current_a);
  const double delay_s = options.current_delay_s + std::exchange(capture.stated_delay_s, 0.0);
  constexpr double nothing = 1e-9;  // samples: what is left where the two cancel
  if (std::abs(delay_s) > nothing * capture.sample_interval_s) take_out_delay(capture, delay_s);
  turn_reversed_supply(capture);
  turn_reversed_clamp(capture);
  if (one_sign(capture.voltage_v)) return;  // the flat top of a pulse looks as the end of a range does
  mark_clipped(capture.voltage_v, capture.voltage_step_v, 1, capture.clipped);
  mark_clipped(capture.current_a, capture.current_step_a, 2, capture.clipped);
}

}  // namespace lampload
