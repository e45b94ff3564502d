#include "core/capture/time_base.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "core/error.h"

namespace lampload {
namespace {

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

struct Steps {
  std::size_t repeated = 0;
  std::size_t first_repeated = 0;  // its stamp
  double largest_s = 0.0;
  std::size_t largest = 0;  // the stamp behind it
};

Steps look_at_steps(const std::vector<double>& time) {
  Steps found;
  for (std::size_t k = 1; k < time.size(); ++k) {
    const double step = time[k] - time[k - 1];
    if (step == 0.0 && found.repeated++ == 0) found.first_repeated = k;
    if (step > found.largest_s) {
      found.largest_s = step;
      found.largest = k;
    }
  }
  return found;
}

// Several stamps alike are rounding when the clock behind them can be uniform. False: they are not.
bool accept_rounded(const std::vector<double>& time, const Steps& steps, Capture& capture) {
  const double interval = fitted_step(time);
  double resolution = std::numeric_limits<double>::infinity();
  for (std::size_t k = 1; k < time.size(); ++k) {
    if (time[k] > time[k - 1]) resolution = std::min(resolution, time[k] - time[k - 1]);
  }
  const bool few = steps.repeated * 100 < time.size();
  // Ties at half a step go either way, and so does the interval fitted to them.
  if (few || misfit_of_uniform_clock(time, interval).range > 1.1 * resolution) return false;
  capture.sample_interval_s = interval;
  note(capture, "time_rounded", Severity::note,
       fmt::format(
           "{} time stamps repeat because the file rounds them to {:.3g} s; a uniform interval of {:.6g} s was taken.",
           steps.repeated, resolution, interval));
  return true;
}

void leave_out(const std::vector<bool>& marked, std::vector<double>& values) {
  std::size_t to = 0;
  for (std::size_t k = 0; k < values.size(); ++k) {
    if (!marked[k]) values[to++] = values[k];
  }
  values.resize(to);
}

// Rows that are there twice, stamp and values alike, as where two exports were put together. False: some differ.
bool leave_out_doubled(Stamps& stamps, Capture& capture) {
  const std::vector<double>& time = stamps.time_s();
  std::vector<bool> doubled(time.size(), false);
  std::size_t count = 0;
  const auto same = [](const std::vector<double>& values, std::size_t k) {
    return values.empty() || values[k] == values[k - 1];
  };
  for (std::size_t k = 1; k < time.size(); ++k) {
    if (time[k] != time[k - 1]) continue;
    if (!same(capture.voltage_v, k) || !same(capture.current_a, k)) return false;
    doubled[k] = true;
    ++count;
  }
  const std::size_t first =
      stamps.line_of(static_cast<std::size_t>(std::find(doubled.begin(), doubled.end(), true) - doubled.begin()));
  leave_out(doubled, capture.voltage_v);
  leave_out(doubled, capture.current_a);
  stamps.leave_out(doubled);
  note(capture, "rows_doubled", Severity::note,
       fmt::format("{} rows are there twice, stamp and values alike (the first in line {}), and were left out once.",
                   count, first));
  return true;
}

void resample(const Stamps& stamps, const Steps& steps, Capture& capture) {
  const std::vector<double>& time = stamps.time_s();
  const double step = median_step(time);
  const auto count = static_cast<std::size_t>(std::floor((time.back() - time.front()) / step * (1.0 + 1e-12))) + 1;
  if (!capture.voltage_v.empty()) capture.voltage_v = resampled(time, capture.voltage_v, step, count);
  if (!capture.current_a.empty()) capture.current_a = resampled(time, capture.current_a, step, count);
  capture.sample_interval_s = step;
  note(capture, "irregular_sampling", Severity::warning,
       fmt::format(
           "The samples are not equidistant (steps up to {:.3g} s, usually {:.3g} s); they were resampled linearly. "
           "Export at a fixed sample rate.",
           steps.largest_s, step));
  if (steps.largest_s > 1.9 * step) {
    note(capture, "time_gap", Severity::warning,
         fmt::format(
             "A gap of {:.3g} s before line {} was bridged by a straight line. Take the capture again if it matters.",
             steps.largest_s, stamps.line_of(steps.largest)));
  }
}

}  // namespace

double median_step(const std::vector<double>& time) {
  const std::size_t stride = std::max<std::size_t>(1, time.size() / 100000);
  std::vector<double> steps;
  for (std::size_t k = 1; k < time.size(); k += stride) {
    if (time[k] > time[k - 1]) steps.push_back(time[k] - time[k - 1]);
  }
  if (steps.empty()) return 0.0;
  const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
  std::nth_element(steps.begin(), middle, steps.end());
  return *middle;
}

std::size_t Stamps::line_of(std::size_t stamp) const {
  const auto behind =
      std::upper_bound(runs_.begin(), runs_.end(), stamp, [](std::size_t s, const Run& run) { return s < run.stamp; });
  if (behind == runs_.begin()) return stamp + 1;
  const Run& run = *std::prev(behind);
  return run.line + (stamp - run.stamp);
}

void Stamps::keep(std::size_t from, std::size_t to) {
  Stamps kept;
  kept.time_s_.reserve(to - from);
  for (std::size_t k = from; k < to; ++k) kept.add(time_s_[k], line_of(k));
  *this = std::move(kept);
}

void Stamps::leave_out(const std::vector<bool>& marked) {
  Stamps kept;
  kept.time_s_.reserve(time_s_.size());
  for (std::size_t k = 0; k < time_s_.size(); ++k) {
    if (!marked[k]) kept.add(time_s_[k], line_of(k));
  }
  *this = std::move(kept);
}

void make_uniform(Stamps stamps, const StatedClock& stated, Capture& capture) {
  const std::vector<double>& time = stamps.time_s();
  const auto mean_step = [&] { return (time.back() - time.front()) / static_cast<double>(time.size() - 1); };
  if (!(mean_step() > 0.0)) {
    throw Error(ErrorCode::input_refused, "all time stamps are the same", Place{.file = capture.file},
                "Choose the time column with --time-column, or give --sample-interval.");
  }
  capture.start_time_s = time.front();
  Steps steps = look_at_steps(time);
  if (steps.repeated > 0) {
    if (accept_rounded(time, steps, capture)) return;
    const std::size_t line = stamps.line_of(steps.first_repeated);
    if (!leave_out_doubled(stamps, capture)) {
      throw Error(
          ErrorCode::input_refused,
          fmt::format("the time stamp repeats the one before ({} times in all), which rounding does not explain",
                      steps.repeated),
          Place{.file = capture.file, .line = line},
          "Remove doubled rows, or give --sample-interval if the samples are equidistant.");
    }
    steps = look_at_steps(time);
  }
  const double mean = mean_step();
  capture.sample_interval_s = mean;
  const double largest = misfit_of_uniform_clock(time, mean).largest;
  if (largest > 0.5 * mean) return resample(stamps, steps, capture);
  // Stamps are rounded, what the file states is not.
  const double close = 1e-3 * mean;
  if (stated.interval_s && std::abs(*stated.interval_s - mean) * static_cast<double>(time.size() - 1) <= close) {
    capture.sample_interval_s = *stated.interval_s;
  }
  if (stated.start_s && std::abs(*stated.start_s - time.front()) <= close) capture.start_time_s = *stated.start_s;
  constexpr double worth_saying = 0.05;
  if (largest > worth_saying * mean) {
    note(capture, "time_jitter", Severity::note,
         fmt::format("The time stamps leave a uniform clock by up to {:.3g} s, {:.0f} % of the interval (rounding, or "
                     "jitter); a uniform interval of {:.6g} s, from the first to the last, was taken.",
                     largest, 100.0 * largest / mean, mean));
  }
}

}  // namespace lampload
