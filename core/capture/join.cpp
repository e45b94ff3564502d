#include "core/capture/join.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/capture/readers.h"
#include "core/error.h"

namespace lampload {

Capture join_channels(const std::string& path, Capture voltage, Capture current) {
  const double interval = voltage.sample_interval_s;
  const double longest = static_cast<double>(std::max(voltage.voltage_v.size(), current.current_a.size()));
  if (std::abs(interval - current.sample_interval_s) * longest > 0.5 * interval) {
    throw Error(ErrorCode::input_refused,
                fmt::format("voltage and current have different sample intervals ({:.6g} s and {:.6g} s)", interval,
                            current.sample_interval_s),
                Place{.file = path}, "Export both channels of one record.");
  }
  const double late = (current.start_time_s - voltage.start_time_s) / interval;
  const double whole = std::round(late);
  if (std::abs(late - whole) > 0.1 || std::abs(whole) >= longest) {
    throw Error(ErrorCode::input_refused,
                fmt::format("voltage and current do not share a time base: they start at {:.9g} s and {:.9g} s",
                            voltage.start_time_s, current.start_time_s),
                Place{.file = path}, "Export both channels of one record.");
  }
  const auto drop_voltage = static_cast<std::ptrdiff_t>(std::max(whole, 0.0));
  const auto drop_current = static_cast<std::ptrdiff_t>(std::max(-whole, 0.0));
  const auto count = std::min(static_cast<std::ptrdiff_t>(voltage.voltage_v.size()) - drop_voltage,
                              static_cast<std::ptrdiff_t>(current.current_a.size()) - drop_current);
  if (count < static_cast<std::ptrdiff_t>(fewest_samples)) {
    throw Error(ErrorCode::input_refused, "voltage and current hardly overlap in time", Place{.file = path},
                "Export both channels of one record.");
  }
  Capture both = std::move(voltage);
  both.file = path;
  both.start_time_s += static_cast<double>(drop_voltage) * interval;
  both.voltage_v =
      std::vector<double>(both.voltage_v.begin() + drop_voltage, both.voltage_v.begin() + drop_voltage + count);
  both.current_a.assign(current.current_a.begin() + drop_current, current.current_a.begin() + drop_current + count);
  both.stated_delay_s += current.stated_delay_s;
  both.form.columns.insert(both.form.columns.end(), current.form.columns.begin(), current.form.columns.end());
  both.notes.insert(both.notes.end(), current.notes.begin(), current.notes.end());
  return both;
}

}  // namespace lampload
