#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "core/error.h"
#include "db/base64.h"
#include "db/figures_json.h"
#include "db/lamp_file_json.h"
#include "db/lamp_file_keys.h"
#include "db/waveform_blob.h"

namespace lampload::lamp_file {
namespace {

using json::Json;

template <class T>
void put(Json& to, const char* key, const std::optional<T>& value) {
  if (value) to[key] = *value;
}

Json of(const Provenance& provenance) {
  return {{"person", provenance.person},
          {"time_utc", provenance.time_utc},
          {"instrument", provenance.instrument},
          {"program_version", provenance.program_version}};
}

Json label_of(const Nominal& nominal) {
  Json label = Json::object();
  put(label, "nominal_voltage_v", nominal.voltage_v);
  put(label, "nominal_frequency_hz", nominal.frequency_hz);
  put(label, "rated_power_w", nominal.rated_power_w);
  put(label, "cold_resistance_ohm", nominal.cold_resistance_ohm);
  put(label, "label_dimmable", nominal.label_dimmable);
  put(label, "base", nominal.base);
  put(label, "technology", nominal.technology);
  for (const DcPoint& point : nominal.dc_points) {
    Json& one = label["dc_points"].emplace_back(Json{{"voltage_v", point.voltage_v}, {"current_a", point.current_a}});
    put(one, "uncertainty_a", point.uncertainty_a);
  }
  return label;
}

Json waveform_of(const Capture& capture) {
  Json waveform = {{"codec", blob::codec},
                   {"voltage_v", to_base64(blob::pack(capture.voltage_v))},
                   {"current_a", to_base64(blob::pack(capture.current_a))}};
  if (!capture.clipped.empty()) waveform["clipped"] = to_base64(blob::pack_bytes(capture.clipped));
  return waveform;
}

Json capture_of(const StoredCapture& stored, bool with_samples) {
  const Capture& capture = stored.capture;
  Json json = {{"file", std::filesystem::path(capture.file).filename().string()},
               {"sha256", stored.sha256},
               {"sample", stored.sample.empty() ? first_sample : stored.sample},
               {"start_time_s", capture.start_time_s},
               {"sample_interval_s", capture.sample_interval_s},
               {"sample_count", stored.figures.samples},
               {"voltage_step_v", capture.voltage_step_v},
               {"current_step_a", capture.current_step_a},
               {"reading", Json::parse(options_to_json(stored.options))},
               {"notes", Json::parse(notes_to_json(capture.notes))},
               {"figures", Json::parse(figures_to_json(stored.figures))},
               {"measured", of(stored.provenance)}};
  if (!with_samples) return json;
  if (capture.voltage_v.empty()) {
    throw Error(ErrorCode::input_refused, "the library holds this capture's figures, not its samples",
                Place{.file = capture.file}, "Share the lamp without its captures");
  }
  json[std::string(lamp_keys::waveform_key)] = waveform_of(capture);
  return json;
}

Json of(const std::vector<StoredEstimate>& estimates) {
  Json list = Json::array();
  for (const StoredEstimate& one : estimates) {
    list.push_back({{"name", one.name},
                    {"unit", one.unit},
                    {"value", one.value},
                    {"standard_uncertainty", one.standard_uncertainty},
                    {"lower_95", one.lower_95},
                    {"upper_95", one.upper_95},
                    {"identified", one.identified},
                    {"remark", one.remark}});
  }
  return list;
}

Json of(const std::vector<StoredSpread>& spreads) {
  Json list = Json::array();
  for (const StoredSpread& one : spreads) {
    list.push_back({{"name", one.name},
                    {"relative", one.relative},
                    {"samples", one.samples},
                    {"spread", one.spread},
                    {"lower_95", one.lower_95},
                    {"upper_95", one.upper_95},
                    {"measured", one.measured},
                    {"usual_share", one.usual_share}});
  }
  return list;
}

Json rows_of(const std::vector<double>& square) {
  const auto side = static_cast<std::size_t>(std::lround(std::sqrt(static_cast<double>(square.size()))));
  Json rows = Json::array();
  for (std::size_t i = 0; i < side; ++i) {
    Json row = Json::array();
    for (std::size_t j = 0; j < side; ++j) row.push_back(square[i * side + j]);
    rows.push_back(std::move(row));
  }
  return rows;
}

/// Places of the fit's captures in the record's list, from 1, in rising order.
Json places_of(const std::vector<std::int64_t>& ids, const std::vector<StoredCapture>& captures) {
  Json places = Json::array();
  for (std::size_t i = 0; i < captures.size(); ++i) {
    if (std::find(ids.begin(), ids.end(), captures[i].id) != ids.end()) places.push_back(i + 1);
  }
  return places;
}

Json fit_of(const StoredFit& fit, const std::vector<StoredCapture>& captures) {
  Json json = {{"accepted", fit.accepted},
               {"verdict", fit.verdict},
               {"family", fit.family},
               {"load_law", fit.load_law},
               {"parameters", of(fit.parameters)},
               {"derived", of(fit.derived)},
               {"covariance", rows_of(fit.covariance)},
               {"residual_rms_a", fit.residual_rms_a},
               {"normalised_residual", fit.normalised_residual},
               {"rivals", Json::array()},
               {"seed", std::to_string(fit.seed)},
               {"captures", places_of(fit.capture_ids, captures)},
               {"fitted", of(fit.provenance)}};
  for (const StoredRival& rival : fit.rivals) {
    json["rivals"].push_back({{"family", rival.family}, {"load_law", rival.load_law}, {"distance", rival.distance}});
  }
  if (!fit.next_capture.empty()) {
    json["next_capture"] = {
        {"capture", fit.next_capture}, {"narrows", fit.next_narrows}, {"sentence", fit.next_sentence}};
  }
  if (!fit.sample.empty()) {
    json["sample"] = fit.sample;
    return json;
  }
  json["spread"] = {{"source", fit.spread_source},
                    {"parameters", of(fit.parameter_spreads)},
                    {"derived", of(fit.derived_spreads)},
                    {"load", of(fit.load_spreads)}};
  json["samples"] = Json::array();
  for (const StoredFit& of_sample : fit.samples) json["samples"].push_back(fit_of(of_sample, captures));
  return json;
}

}  // namespace

Json written(const LampRecord& lamp, const SharingTerms& terms) {
  const bool is_1_1 = lamp.nominal.base || lamp.nominal.technology;
  Json json = {{"record_version", is_1_1 ? lamp_keys::versions[1] : lamp_keys::versions[0]},
               {"name", lamp.name},
               {"notes", lamp.notes},
               {"licence", terms.licence},
               {"contributor", {{"name", terms.contributor}}},
               {"label", label_of(lamp.nominal)},
               {"captures", Json::array()}};
  if (terms.key) json["contributor"]["public_key"] = terms.key->public_key();
  for (const StoredCapture& capture : lamp.captures)
    json["captures"].push_back(capture_of(capture, terms.with_samples));
  if (lamp.fit) json["fit"] = fit_of(*lamp.fit, lamp.captures);
  if (!terms.extras.empty()) json["extras"] = Json::parse(terms.extras);
  return json;
}

Json content(const Json& record) {
  Json json = {{"label", record.at("label")}, {"captures", Json::array()}};
  for (Json capture : record.at("captures")) {
    capture.erase(std::string(lamp_keys::waveform_key));
    json["captures"].push_back(std::move(capture));
  }
  if (record.contains("fit")) json["fit"] = record.at("fit");
  return json;
}

}  // namespace lampload::lamp_file
