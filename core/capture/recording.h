#pragma once
// What a binary file of samples holds, before anyone has chosen what is the voltage and what the current.

#include <optional>
#include <string>
#include <vector>

#include "core/capture/capture.h"
#include "core/capture/layout.h"

namespace lampload {

/// Channels of one record, all as long as each other, on one time axis.
struct Recording {
  struct Channel {
    std::string name;  ///< empty: the file has none
    Unit unit;         ///< what a value of the file is multiplied by, and what it is then
    std::vector<double> values;
    std::vector<std::size_t> beyond_range;  ///< samples at which the file says that the value is no value
    double skew_s = 0.0;                    ///< this channel is sampled so much after the sample's time
    double ratio = 1.0;                     ///< of the transformer it is recorded behind; not in the values
  };
  std::vector<Channel> channels;
  double start_time_s = 0.0;
  std::optional<double> sample_interval_s;  ///< empty where the file does not say it
  std::vector<double> time_s;               ///< one a sample where the interval is not constant; else empty
  std::vector<QualityNote> notes;
};

/// The capture in a recording: channels chosen by the person's options, by name and unit, or by order (voltage,
/// current) where the file names none. Not conditioned yet. Throws Error{input_refused} where the choice is not clear,
/// the interval is known to nobody, or a chosen sample is no number.
Capture capture_of(const std::string& file, Recording recording, const CaptureOptions& options, Channels channels);

}  // namespace lampload
