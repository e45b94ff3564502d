#include "core/capture/recording.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/capture/lost_samples.h"
#include "core/capture/plain_rows.h"
#include "core/capture/readers.h"
#include "core/capture/time_base.h"
#include "core/error.h"

namespace lampload {
namespace {

std::vector<double> scaled(Recording::Channel& channel) {
  for (const std::size_t k : channel.beyond_range) channel.values[k] = lost_sample(channel.values[k]);
  for (double& value : channel.values) {
    if (std::abs(value) >= largest_plain) value = lost_sample(value);
  }
  if (channel.unit.factor != 1.0) {
    for (double& value : channel.values) value *= channel.unit.factor;
  }
  return std::move(channel.values);
}

/// What the file says of the chosen channels that is not in their values.
void say_of_channels(const Recording& recording, const Layout& layout, const ChosenColumns& chosen,
                     const CaptureOptions& options, Capture& capture) {
  struct Choice {
    const std::optional<std::size_t>& column;
    double scale;
    const char* option;
  };
  for (const Choice& choice : {Choice{chosen.voltage, options.voltage_scale, "--voltage-scale"},
                               Choice{chosen.current, options.current_scale, "--current-scale"}}) {
    if (!choice.column || choice.scale != 1.0) continue;
    const double ratio = recording.channels[*choice.column].ratio;
    if (ratio == 1.0) continue;
    capture.notes.push_back(
        {"secondary_values",
         Severity::warning,
         fmt::format("Channel \"{}\" holds the values behind a transformer of ratio {:.6g}, as the file says. Give {} "
                     "{:.6g} for those ahead of it.",
                     column_label(layout, *choice.column), ratio, choice.option, ratio),
         {{"ratio", ratio}}});
  }
  const auto skew = [&](const std::optional<std::size_t>& column) {
    return column ? recording.channels[*column].skew_s : 0.0;
  };
  // A channel that is sampled later shows an event at an earlier sample.
  capture.stated_delay_s = skew(chosen.voltage) - skew(chosen.current);
  if (capture.stated_delay_s == 0.0) return;
  const double later_us = 1e6 * std::abs(capture.stated_delay_s);
  capture.notes.push_back(
      {"channel_skew",
       Severity::note,
       fmt::format(
           "The file says that the {} is sampled {:.6g} us after {}; that was taken out. --current-delay counts "
           "on top of it.",
           capture.stated_delay_s < 0.0 ? "current" : "voltage", later_us,
           !chosen.voltage || !chosen.current ? "the sample's time"
           : capture.stated_delay_s < 0.0     ? "the voltage"
                                              : "the current"),
       {{"current_delay_s", capture.stated_delay_s}}});
}

}  // namespace

Capture capture_of(const std::string& file, Recording recording, const CaptureOptions& options, Channels channels) {
  Layout layout;
  for (const Recording::Channel& channel : recording.channels) {
    Column column;
    column.name = channel.name;
    column.meaning = channel.unit;
    column.holds_numbers = true;
    layout.has_header = layout.has_header || !channel.name.empty() || channel.unit.quantity != Quantity::unknown;
    layout.columns.push_back(std::move(column));
  }
  layout.timed_by_itself = !recording.time_s.empty() || recording.sample_interval_s;
  ChosenColumns chosen = choose_columns(file, layout, options, channels);
  if (options.sample_interval_s) chosen.time.reset();
  if (!options.sample_interval_s && !chosen.time && recording.time_s.empty() && !recording.sample_interval_s) {
    throw Error(ErrorCode::input_refused, "the file says nothing of time", Place{.file = file},
                "Give --sample-interval, in seconds.");
  }
  Capture capture;
  capture.file = file;
  capture.notes = std::move(recording.notes);
  for (const auto& [quantity, column] :
       {std::pair{"time", chosen.time}, std::pair{"voltage", chosen.voltage}, std::pair{"current", chosen.current}}) {
    if (!column) continue;
    capture.form.columns.push_back({quantity, column_label(layout, *column), recording.channels[*column].unit.factor});
  }
  say_of_channels(recording, layout, chosen, options, capture);
  if (chosen.voltage) capture.voltage_v = scaled(recording.channels[*chosen.voltage]);
  if (chosen.current) capture.current_a = scaled(recording.channels[*chosen.current]);
  const std::size_t samples = std::max(capture.voltage_v.size(), capture.current_a.size());
  if (samples < fewest_samples) {
    throw Error(ErrorCode::input_refused, fmt::format("holds {} samples, fewer than {}", samples, fewest_samples),
                Place{.file = file}, "Export the whole record.");
  }
  capture.start_time_s = recording.start_time_s;
  if (options.sample_interval_s) {
    capture.sample_interval_s = *options.sample_interval_s;
  } else if (chosen.time || !recording.time_s.empty()) {
    const std::vector<double> times =
        chosen.time ? scaled(recording.channels[*chosen.time]) : std::move(recording.time_s);
    Stamps stamps;
    for (std::size_t k = 0; k < times.size(); ++k) {
      if (!std::isfinite(times[k])) {
        throw Error(ErrorCode::input_refused, fmt::format("the time of sample {} is no number", k + 1),
                    Place{.file = file}, "Choose another time column, or give --sample-interval.");
      }
      stamps.add(times[k], k + 1);
    }
    keep_segment(options.segment, {}, stamps, capture);
    make_uniform(std::move(stamps), {}, capture);
  } else {
    capture.sample_interval_s = *recording.sample_interval_s;
  }
  return capture;
}

}  // namespace lampload
