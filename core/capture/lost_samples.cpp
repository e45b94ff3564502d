#include "core/capture/lost_samples.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/error.h"

namespace lampload {
namespace {

constexpr double largest_share = 0.1;  // of a channel; with more lost, its rms and power mean nothing

struct SampledChannel {
  std::vector<double>& values;
  const char* name;
  const char* unit;
  std::uint8_t bit;
};

void fill(Capture& capture, const SampledChannel& channel) {
  std::vector<double>& values = channel.values;
  std::size_t lost = 0;
  std::size_t first = 0;
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for (std::size_t k = 0; k < values.size(); ++k) {
    if (std::isfinite(values[k])) {
      low = std::min(low, values[k]);
      high = std::max(high, values[k]);
    } else if (lost++ == 0) {
      first = k;
    }
  }
  if (lost == 0) return;
  const double share = static_cast<double>(lost) / static_cast<double>(values.size());
  if (share > largest_share) {
    throw Error(ErrorCode::input_refused,
                fmt::format("{} of {} samples of the {} ({:.0f} %) stand for a value beyond the instrument's range, or "
                            "for none; the first is sample {}",
                            lost, values.size(), channel.name, 100.0 * share, first + 1),
                Place{.file = capture.file}, "Choose a larger range on the instrument and take the capture again.");
  }
  capture.clipped.resize(values.size(), 0);
  for (std::size_t from = first; from < values.size();) {
    if (std::isfinite(values[from])) {
      ++from;
      continue;
    }
    std::size_t to = from;
    while (to < values.size() && !std::isfinite(values[to])) ++to;
    const double left = from > 0 ? values[from - 1] : 0.0;
    const double right = to < values.size() ? values[to] : 0.0;
    // What is missing lay beyond its neighbours rather than below.
    const double near = std::abs(right) > std::abs(left) ? right : left;
    for (std::size_t k = from; k < to; ++k) {
      values[k] = std::isnan(values[k]) ? near : values[k] > 0.0 ? high : low;
      capture.clipped[k] |= channel.bit;
    }
    from = to;
  }
  const double first_s = capture.start_time_s + static_cast<double>(first) * capture.sample_interval_s;
  capture.notes.push_back(
      {fmt::format("overload_{}", channel.name),
       Severity::error,
       fmt::format("{} {} samples ({:.2g} %), the first at {:.6g} s, lay beyond the instrument's range or are missing. "
                   "They count as clipped, between {:.4g} and {:.4g} {}, so peak, rms and power read too low; a fit "
                   "leaves them out. Choose a larger {} range and capture again.",
                   lost, channel.name, 100.0 * share, first_s, low, high, channel.unit, channel.name),
       {{"samples", static_cast<double>(lost)}, {"share", share}, {"first_s", first_s}}});
}

}  // namespace

double lost_sample(double as_written) {
  constexpr double largest_plain = 1e30;
  const bool signed_value = std::abs(as_written) >= largest_plain;
  return signed_value ? std::copysign(std::numeric_limits<double>::infinity(), as_written)
                      : std::numeric_limits<double>::quiet_NaN();
}

void fill_lost_samples(Capture& capture) {
  fill(capture, {capture.voltage_v, "voltage", "V", 1});
  fill(capture, {capture.current_a, "current", "A", 2});
}

}  // namespace lampload
