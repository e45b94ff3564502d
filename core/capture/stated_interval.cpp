#include "core/capture/stated_interval.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace lampload {
namespace {

constexpr double worth_warning = 0.03;  // of the interval: more than rounding and a clock's drift

// Also where it is stated in the unit of the time column.
bool agrees(double stated, StampUnit unit, double interval_s) {
  const auto same = [&](double a) {
    return std::abs(a * static_cast<double>(unit.stride) - interval_s) <= worth_warning * interval_s;
  };
  return same(stated) || same(stated * unit.seconds);
}

}  // namespace

bool take_stated_interval(const Stamps& stamps, const StatedClock& stated, StampUnit unit, Capture& capture) {
  const std::vector<double>& time = stamps.time_s();
  if (!stated.interval_s || time.size() < 2) return false;
  const double step = unit.seconds * static_cast<double>(unit.stride);
  if (agrees(*stated.interval_s, unit, step)) return false;
  const double first = time.front() / unit.seconds;
  if (first != 0.0 && first != 1.0) return false;
  for (std::size_t k = 0; k < time.size(); ++k) {
    const double expected = first + static_cast<double>(k * unit.stride);
    if (std::abs(time[k] / unit.seconds - expected) > 1e-9 * std::max(1.0, expected)) return false;
  }
  capture.start_time_s = stated.start_s.value_or(0.0);
  capture.sample_interval_s = *stated.interval_s * static_cast<double>(unit.stride);
  capture.notes.push_back(
      {"sample_numbers", Severity::note,
       fmt::format("The time column counts the samples ({:.0f}, {:.0f}, ...); the interval of {:.6g} s that the file "
                   "states was taken.",
                   first, first + static_cast<double>(unit.stride), *stated.interval_s)});
  return true;
}

void compare_with_stated(const StatedClock& stated, StampUnit unit, Capture& capture) {
  if (!stated.interval_s || agrees(*stated.interval_s, unit, capture.sample_interval_s)) return;
  capture.notes.push_back(
      {"stated_interval",
       Severity::warning,
       fmt::format("The file states an interval of {:.6g} s, its time column counts by {:.6g} s, which was taken. If "
                   "what is stated is right, give --sample-interval.",
                   *stated.interval_s, capture.sample_interval_s),
       {{"stated_interval_s", *stated.interval_s}, {"sample_interval_s", capture.sample_interval_s}}});
}

}  // namespace lampload
