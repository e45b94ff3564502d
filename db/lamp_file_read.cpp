#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "core/error.h"
#include "db/base64.h"
#include "db/figures_json.h"
#include "db/lamp_file_json.h"
#include "db/lamp_file_keys.h"
#include "db/waveform_blob.h"

namespace lampload::lamp_file {
namespace {

using json::Json;
using json::Object;

// The shape was checked: every key is there and of its kind.
std::string text(const Json& json, const char* key) { return json.at(key).get<std::string>(); }
double number(const Json& json, const char* key) { return json.at(key).get<double>(); }
bool flag(const Json& json, const char* key) { return json.at(key).get<bool>(); }

template <class T>
void take(const Json& json, const char* key, std::optional<T>& value) {
  if (json.contains(key)) value = json.at(key).get<T>();
}

Provenance provenance_of(const Json& json) {
  return {text(json, "person"), text(json, "time_utc"), text(json, "instrument"), text(json, "program_version")};
}

Nominal label_of(const Json& json) {
  Nominal nominal;
  take(json, "nominal_voltage_v", nominal.voltage_v);
  take(json, "nominal_frequency_hz", nominal.frequency_hz);
  take(json, "rated_power_w", nominal.rated_power_w);
  take(json, "cold_resistance_ohm", nominal.cold_resistance_ohm);
  take(json, "label_dimmable", nominal.label_dimmable);
  take(json, "base", nominal.base);
  take(json, "technology", nominal.technology);
  if (!json.contains("dc_points")) return nominal;
  for (const Json& point : json.at("dc_points")) {
    nominal.dc_points.push_back({number(point, "voltage_v"), number(point, "current_a"), std::nullopt});
    take(point, "uncertainty_a", nominal.dc_points.back().uncertainty_a);
  }
  return nominal;
}

std::vector<double> samples_of(const Object& waveform, const char* key, std::size_t count) {
  try {
    std::vector<double> values = blob::unpack(from_base64(waveform.text(key)), count);
    if (std::all_of(values.begin(), values.end(), [](double value) { return std::abs(value) <= 1e9; })) return values;
  } catch (const Error& fault) {
    waveform.refuse(key, fmt::format("the samples cannot be unpacked: {}", fault.message()));
  }
  waveform.refuse(key, "a sample is not a finite number of usual size");
}

StoredCapture capture_of(const Object& object) {
  const Json& json = object.json();
  StoredCapture stored;
  Capture& capture = stored.capture;
  capture.file = text(json, "file");
  stored.sha256 = text(json, "sha256");
  stored.sample = text(json, "sample");
  capture.start_time_s = number(json, "start_time_s");
  capture.sample_interval_s = number(json, "sample_interval_s");
  capture.voltage_step_v = number(json, "voltage_step_v");
  capture.current_step_a = number(json, "current_step_a");
  stored.options = options_from_json(json.at("reading").dump());
  capture.notes = notes_from_json(json.at("notes").dump());
  stored.figures = figures_from_json(json.at("figures").dump());
  stored.provenance = provenance_of(json.at("measured"));
  const auto count = json.at("sample_count").get<std::size_t>();
  if (stored.figures.samples != count) {
    object.refuse("sample_count", fmt::format("{} samples, but the figures are of {}", count, stored.figures.samples));
  }
  if (!object.has(lamp_keys::waveform_key)) return stored;
  const Object waveform = object.object(lamp_keys::waveform_key);
  capture.voltage_v = samples_of(waveform, "voltage_v", count);
  capture.current_a = samples_of(waveform, "current_a", count);
  if (waveform.has("clipped")) {
    try {
      capture.clipped = blob::unpack_bytes(from_base64(waveform.text("clipped")), count);
    } catch (const Error& fault) {
      waveform.refuse("clipped", fmt::format("the marks cannot be unpacked: {}", fault.message()));
    }
  }
  return stored;
}

std::vector<StoredEstimate> estimates_of(const Json& list) {
  std::vector<StoredEstimate> estimates;
  for (const Json& one : list) {
    estimates.push_back({text(one, "name"), text(one, "unit"), number(one, "value"),
                         number(one, "standard_uncertainty"), number(one, "lower_95"), number(one, "upper_95"),
                         flag(one, "identified"), text(one, "remark")});
  }
  return estimates;
}

std::vector<StoredSpread> spreads_of(const Json& list) {
  std::vector<StoredSpread> spreads;
  for (const Json& one : list) {
    spreads.push_back({text(one, "name"), flag(one, "relative"), one.at("samples").get<int>(), number(one, "spread"),
                       number(one, "lower_95"), number(one, "upper_95"), number(one, "measured"),
                       number(one, "usual_share")});
  }
  return spreads;
}

StoredFit fit_of(const Object& object, std::size_t captures) {
  const Json& json = object.json();
  StoredFit fit;
  fit.accepted = flag(json, "accepted");
  fit.verdict = text(json, "verdict");
  fit.family = text(json, "family");
  fit.load_law = text(json, "load_law");
  fit.parameters = estimates_of(json.at("parameters"));
  fit.derived = estimates_of(json.at("derived"));
  const auto rows = object.rows("covariance", -lamp_keys::any, lamp_keys::any);
  for (const std::vector<double>& row : rows) {
    if (row.size() != rows.size()) object.refuse("covariance", "has not as many columns as rows");
    fit.covariance.insert(fit.covariance.end(), row.begin(), row.end());
  }
  fit.residual_rms_a = number(json, "residual_rms_a");
  fit.normalised_residual = number(json, "normalised_residual");
  for (const Json& one : json.at("rivals")) {
    fit.rivals.push_back({text(one, "family"), text(one, "load_law"), number(one, "distance")});
  }
  if (json.contains("next_capture")) {
    const Json& next = json.at("next_capture");
    fit.next_capture = text(next, "capture");
    fit.next_narrows = text(next, "narrows");
    fit.next_sentence = text(next, "sentence");
  }
  const std::string seed = text(json, "seed");
  if (std::from_chars(seed.data(), seed.data() + seed.size(), fit.seed).ec != std::errc{}) {
    object.refuse("seed", "is above 2^64 - 1");
  }
  for (const double place : object.numbers("captures", 0.0, 1e9)) {
    if (place < 1.0 || place > static_cast<double>(captures)) {
      object.refuse("captures", fmt::format("there is no capture {}; the record has {}", place, captures));
    }
    fit.capture_ids.push_back(static_cast<std::int64_t>(place));
  }
  fit.provenance = provenance_of(json.at("fitted"));
  if (json.contains("sample")) fit.sample = text(json, "sample");
  if (!json.contains("samples")) return fit;
  const Json& spread = json.at("spread");
  fit.spread_source = text(spread, "source");
  fit.parameter_spreads = spreads_of(spread.at("parameters"));
  fit.derived_spreads = spreads_of(spread.at("derived"));
  fit.load_spreads = spreads_of(spread.at("load"));
  for (const Object& one : object.objects("samples")) fit.samples.push_back(fit_of(one, captures));
  return fit;
}

}  // namespace

LampRecord read(const Object& object) {
  LampRecord lamp;
  lamp.name = object.text("name");
  lamp.notes = object.text("notes");
  lamp.nominal = label_of(object.json().at("label"));
  for (const Object& one : object.objects("captures")) {
    lamp.captures.push_back(capture_of(one));
    StoredCapture& last = lamp.captures.back();
    last.id = static_cast<std::int64_t>(lamp.captures.size());
    for (const StoredCapture& other : std::span(lamp.captures).first(lamp.captures.size() - 1)) {
      if (same_recording(other, last)) one.refuse("sha256", "the same recording stands in the list twice");
    }
  }
  if (object.has("fit")) {
    lamp.fit = fit_of(object.object("fit"), lamp.captures.size());
    lamp.fits = 1;
  }
  return lamp;
}

}  // namespace lampload::lamp_file
