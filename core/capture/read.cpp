#include "core/capture/read.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <optional>
#include <utility>

#include "core/capture/conditioning.h"
#include "core/capture/join.h"
#include "core/capture/layout_file.h"
#include "core/capture/readers.h"
#include "core/error.h"

namespace lampload {
namespace {

// VOLTAGE+CURRENT: two files of one measurement. The voltage part must exist for a plus sign to mean this.
std::optional<std::pair<std::string, std::string>> split_pair(const std::string& path) {
  std::error_code ignored;
  if (std::filesystem::exists(path, ignored)) return std::nullopt;
  for (auto plus = path.find('+'); plus != std::string::npos; plus = path.find('+', plus + 1)) {
    if (std::filesystem::exists(path.substr(0, plus), ignored))
      return std::pair{path.substr(0, plus), path.substr(plus + 1)};
  }
  return std::nullopt;
}

Capture read_one(const std::string& path, const CaptureOptions& options, Channels channels) {
  const RecognisedFile file = recognise_file(path);
  Capture capture = file.reader->read(path, options, channels);
  capture.form.name = file.reader->name;
  capture.form.certainty = file.recognition.certainty;
  capture.form.reason = file.recognition.reason;
  return capture;
}

void check_options(const CaptureOptions& options) {
  const auto usable = [](double factor) { return std::isfinite(factor) && factor != 0.0; };
  const auto refuse = [](const char* message, const char* remedy) {
    throw Error(ErrorCode::usage, message, {}, remedy);
  };
  if (!usable(options.voltage_scale) || !usable(options.current_scale)) {
    refuse("a scale must be a finite number other than zero", "Use --invert-current for a reversed clamp.");
  }
  if (!std::isfinite(options.voltage_offset_v) || !std::isfinite(options.current_offset_a) ||
      !std::isfinite(options.current_delay_s)) {
    refuse("offsets and the current delay must be finite numbers", "Give them in volts, amperes and seconds.");
  }
  if (options.segment && *options.segment < 1) refuse("segments are counted from 1", "Give --segment 1 or more.");
  if (options.sample_interval_s && !(std::isfinite(*options.sample_interval_s) && *options.sample_interval_s > 0.0)) {
    refuse("the sample interval must be above zero", "Give it in seconds, such as 2e-5.");
  }
}

}  // namespace

Capture read_capture(const std::string& path, const CaptureOptions& given) {
  CaptureOptions options = given;
  take_from_layout(options);
  check_options(options);
  Capture capture;
  if (const auto pair = split_pair(path)) {
    capture = join_channels(path, read_one(pair->first, options, Channels::voltage_only),
                            read_one(pair->second, options, Channels::current_only));
  } else {
    capture = read_one(path, options, Channels::both);
  }
  condition(capture, options);
  return capture;
}

std::vector<std::string> files_of_capture(const std::string& path) {
  if (const auto pair = split_pair(path)) return {pair->first, pair->second};
  return {path};
}

}  // namespace lampload
