#include "core/capture/recording.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/capture/lost_samples.h"
#include "core/capture/readers.h"
#include "core/capture/time_base.h"
#include "core/error.h"

namespace lampload {
namespace {

std::vector<double> scaled(Recording::Channel& channel) {
  for (const std::size_t k : channel.beyond_range) channel.values[k] = lost_sample(channel.values[k]);
  if (channel.unit.factor != 1.0) {
    for (double& value : channel.values) value *= channel.unit.factor;
  }
  return std::move(channel.values);
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
