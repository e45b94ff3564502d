#include "core/capture/time_base.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/error.h"

namespace lampload {
namespace {

double median_step(const std::vector<double>& time) {
  const std::size_t stride = std::max<std::size_t>(1, time.size() / 100000);
  std::vector<double> steps;
  for (std::size_t k = 1; k < time.size(); k += stride) steps.push_back(time[k] - time[k - 1]);
  const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
  std::nth_element(steps.begin(), middle, steps.end());
  return *middle;
}

struct Misfit {
  double largest = 0.0;  // beyond the line through first and last stamp
  double range = 0.0;
};

Misfit misfit_of_uniform_clock(const std::vector<double>& time, double interval) {
  double low = 0.0;
  double high = 0.0;
  for (std::size_t k = 0; k < time.size(); ++k) {
    const double residual = time[k] - (time[0] + static_cast<double>(k) * interval);
    low = std::min(low, residual);
    high = std::max(high, residual);
  }
  return {std::max(-low, high), high - low};
}

std::vector<double> resampled(const std::vector<double>& time, const std::vector<double>& values, double interval,
                              std::size_t count) {
  std::vector<double> uniform;
  uniform.reserve(count);
  std::size_t at = 0;
  for (std::size_t k = 0; k < count; ++k) {
    const double wanted = time[0] + static_cast<double>(k) * interval;
    while (at + 2 < time.size() && time[at + 1] < wanted) ++at;
    const double share = std::clamp((wanted - time[at]) / (time[at + 1] - time[at]), 0.0, 1.0);
    uniform.push_back(values[at] + share * (values[at + 1] - values[at]));
  }
  return uniform;
}

void note(Capture& capture, const char* code, Severity severity, std::string message) {
  capture.notes.push_back({code, severity, std::move(message)});
}

// Least squares: rounded ends count no more than any other stamp.
double fitted_step(const std::vector<double>& time) {
  const double middle = 0.5 * static_cast<double>(time.size() - 1);
  double product = 0.0;
  double squares = 0.0;
  for (std::size_t k = 0; k < time.size(); ++k) {
    const double place = static_cast<double>(k) - middle;
    product += place * (time[k] - time[0]);
    squares += place * place;
  }
  return product / squares;
}

// Several stamps alike are rounding when the clock behind them can be uniform.
void accept_rounded(const Stamps& stamps, Capture& capture) {
  const auto& time = stamps.time_s;
  const double interval = fitted_step(time);
  capture.sample_interval_s = interval;
  double resolution = std::numeric_limits<double>::infinity();
  for (std::size_t k = 1; k < time.size(); ++k) {
    if (time[k] > time[k - 1]) resolution = std::min(resolution, time[k] - time[k - 1]);
  }
  const bool few = stamps.repeated * 100 < time.size();
  if (few || misfit_of_uniform_clock(time, interval).range > 1.01 * resolution) {
    throw Error(ErrorCode::input_refused,
                fmt::format("the time stamp repeats the one before ({} times in all), which rounding does not explain",
                            stamps.repeated),
                Place{.file = capture.file, .line = stamps.first_repeated_line},
                "Remove doubled rows, or give --sample-interval if the samples are equidistant.");
  }
  note(capture, "time_rounded", Severity::note,
       fmt::format(
           "{} time stamps repeat because the file rounds them to {:.3g} s; a uniform interval of {:.6g} s was taken.",
           stamps.repeated, resolution, interval));
}

}  // namespace

bool Stamps::add(double time, std::size_t line) {
  if (!time_s.empty()) {
    const double step = time - time_s.back();
    if (step < 0.0) return false;
    if (step == 0.0 && repeated++ == 0) first_repeated_line = line;
    if (step > largest_step_s) {
      largest_step_s = step;
      largest_step_line = line;
    }
  }
  time_s.push_back(time);
  return true;
}

void make_uniform(const Stamps& stamps, Capture& capture) {
  const auto& time = stamps.time_s;
  const double mean = (time.back() - time.front()) / static_cast<double>(time.size() - 1);
  if (!(mean > 0.0)) {
    throw Error(ErrorCode::input_refused, "all time stamps are the same", Place{.file = capture.file},
                "Choose the time column with --time-column, or give --sample-interval.");
  }
  capture.start_time_s = time.front();
  capture.sample_interval_s = mean;
  if (stamps.repeated > 0) return accept_rounded(stamps, capture);
  if (misfit_of_uniform_clock(time, mean).largest <= 0.5 * mean) return;

  const double step = median_step(time);
  constexpr double kLongestBridge = 10.0;
  if (stamps.largest_step_s > kLongestBridge * step) {
    throw Error(
        ErrorCode::input_refused,
        fmt::format("time jumps by {:.6g} s here, while samples are {:.6g} s apart", stamps.largest_step_s, step),
        Place{.file = capture.file, .line = stamps.largest_step_line},
        "Export one record without gaps, or only the part before or after.");
  }
  const auto count = static_cast<std::size_t>(std::floor((time.back() - time.front()) / step * (1.0 + 1e-12))) + 1;
  if (!capture.voltage_v.empty()) capture.voltage_v = resampled(time, capture.voltage_v, step, count);
  if (!capture.current_a.empty()) capture.current_a = resampled(time, capture.current_a, step, count);
  capture.sample_interval_s = step;
  note(capture, "irregular_sampling", Severity::warning,
       fmt::format(
           "The samples are not equidistant (steps up to {:.3g} s, usually {:.3g} s); they were resampled linearly. "
           "Export at a fixed sample rate.",
           stamps.largest_step_s, step));
  if (stamps.largest_step_s > 1.9 * step) {
    note(capture, "time_gap", Severity::warning,
         fmt::format(
             "A gap of {:.3g} s before line {} was bridged by a straight line. Take the capture again if it matters.",
             stamps.largest_step_s, stamps.largest_step_line));
  }
}

}  // namespace lampload
