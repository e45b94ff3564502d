#include "cli/report_json.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

#include "cli/json_text.h"
#include "core/error.h"

namespace lampload {
namespace {

using Json = nlohmann::ordered_json;

using lampload::known;

/// To seven digits: a report is read and drawn from, and long numbers were much of a stored lamp.
double rounded(double value) {
  const std::string text = fmt::format("{:.7g}", value);
  double read = value;
  std::from_chars(text.data(), text.data() + text.size(), read);
  return read;
}

Json finite(const std::optional<double>& value) {
  return value && std::isfinite(*value) ? Json(rounded(*value)) : Json(nullptr);
}

std::optional<double> number(const Json& json) {
  return json.is_null() ? std::nullopt : std::optional(json.get<double>());
}

std::string text(const Json& json) { return json.is_null() ? std::string() : json.get<std::string>(); }

Json json_of(const StartReport& start) {
  Json parameters = Json::object();
  for (const auto& [name, value] : start.parameters) parameters[name] = rounded(value);
  return {{"misfit", rounded(start.misfit)},
          {"ended", start.ended},
          {"plausible", start.plausible},
          {"parameters", std::move(parameters)}};
}

Json json_of(const FamilyReport& family) {
  Json starts = Json::array();
  for (const StartReport& start : family.starts) starts.push_back(json_of(start));
  return {{"family", family.family},
          {"load_law", known(family.load_law)},
          {"outcome", family.outcome},
          {"distance", finite(family.distance)},
          {"starts", std::move(starts)}};
}

FamilyReport family_of(const Json& json) {
  FamilyReport family;
  json.at("family").get_to(family.family);
  family.load_law = text(json.at("load_law"));
  json.at("outcome").get_to(family.outcome);
  family.distance = number(json.at("distance"));
  for (const Json& one : json.at("starts")) {
    StartReport& start = family.starts.emplace_back();
    one.at("misfit").get_to(start.misfit);
    one.at("ended").get_to(start.ended);
    one.at("plausible").get_to(start.plausible);
    for (const auto& item : one.at("parameters").items()) {
      start.parameters.emplace_back(item.key(), item.value().get<double>());
    }
  }
  return family;
}

FitReport report_of(const Json& json) {
  FitReport report;
  json.at("blocks").get_to(report.blocks);
  json.at("unknowns").get_to(report.unknowns);
  json.at("residual_autocorrelation").get_to(report.residual_autocorrelation);
  json.at("correlation_length_blocks").get_to(report.correlation_length_blocks);
  json.at("repetition").get_to(report.repetition);
  report.bandwidth_hz = number(json.at("bandwidth_hz"));
  for (const Json& one : json.at("captures")) {
    CaptureReport& capture = report.captures.emplace_back();
    one.at("file").get_to(capture.file);
    one.at("blocks").get_to(capture.blocks);
    one.at("current_offset_a").get_to(capture.current_offset_a);
    one.at("current_delay_s").get_to(capture.current_delay_s);
    one.at("residual_rms_a").get_to(capture.residual_rms_a);
  }
  for (const Json& one : json.at("observations")) {
    ObservationReport& seen = report.observations.emplace_back();
    one.at("what").get_to(seen.what);
    one.at("deviation").get_to(seen.deviation);
    one.at("counted").get_to(seen.counted);
    one.at("sentence").get_to(seen.sentence);
  }
  for (const Json& one : json.at("held")) {
    HeldReport& held = report.held.emplace_back();
    one.at("parameter").get_to(held.parameter);
    one.at("reason").get_to(held.reason);
    held.gain = number(one.at("gain"));
    one.at("worth").get_to(held.worth);
    one.at("sentence").get_to(held.sentence);
  }
  for (const Json& one : json.at("families")) report.families.push_back(family_of(one));
  return report;
}

}  // namespace

std::string report_to_json(const FitReport& report) {
  Json captures = Json::array();
  for (const CaptureReport& capture : report.captures) {
    captures.push_back({{"file", capture.file},
                        {"blocks", capture.blocks},
                        {"current_offset_a", rounded(capture.current_offset_a)},
                        {"current_delay_s", rounded(capture.current_delay_s)},
                        {"residual_rms_a", rounded(capture.residual_rms_a)}});
  }
  Json observations = Json::array();
  for (const ObservationReport& one : report.observations) {
    observations.push_back({{"what", one.what},
                            {"deviation", rounded(one.deviation)},
                            {"counted", one.counted},
                            {"sentence", one.sentence}});
  }
  Json held = Json::array();
  for (const HeldReport& one : report.held) {
    held.push_back({{"parameter", one.parameter},
                    {"reason", one.reason},
                    {"gain", finite(one.gain)},
                    {"worth", one.worth},
                    {"sentence", one.sentence}});
  }
  Json families = Json::array();
  for (const FamilyReport& family : report.families) families.push_back(json_of(family));
  const Json json = {{"blocks", report.blocks},
                     {"unknowns", report.unknowns},
                     {"residual_autocorrelation", rounded(report.residual_autocorrelation)},
                     {"correlation_length_blocks", rounded(report.correlation_length_blocks)},
                     {"repetition", rounded(report.repetition)},
                     {"bandwidth_hz", finite(report.bandwidth_hz)},
                     {"captures", std::move(captures)},
                     {"observations", std::move(observations)},
                     {"held", std::move(held)},
                     {"families", std::move(families)}};
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

std::optional<FitReport> report_from_json(const std::string& text) {
  if (text.empty()) return std::nullopt;
  try {
    return report_of(Json::parse(text));
  } catch (const nlohmann::json::exception& fault) {
    throw Error(ErrorCode::library, fmt::format("the stored report of the fit is damaged: {}", fault.what()), {},
                "Run 'lampload fit' again");
  }
}

std::vector<std::size_t> free_parameters(const StoredFit& fit) {
  const std::size_t n = fit.parameters.size();
  std::vector<std::size_t> free;
  if (fit.covariance.size() != n * n) return free;
  for (std::size_t a = 0; a < n; ++a) {
    if (fit.covariance[a * n + a] > 0.0) free.push_back(a);
  }
  return free;
}

double correlation_of(const StoredFit& fit, std::size_t a, std::size_t b) {
  const std::size_t n = fit.parameters.size();
  return fit.covariance[a * n + b] / std::sqrt(fit.covariance[a * n + a] * fit.covariance[b * n + b]);
}

std::vector<ParameterCorrelation> high_correlations(const StoredFit& fit) {
  std::vector<ParameterCorrelation> pairs;
  const std::vector<std::size_t> free = free_parameters(fit);
  for (std::size_t k = 0; k < free.size(); ++k) {
    for (std::size_t m = k + 1; m < free.size(); ++m) {
      const double correlation = correlation_of(fit, free[k], free[m]);
      if (std::abs(correlation) > high_correlation) {
        pairs.push_back({fit.parameters[free[k]].name, fit.parameters[free[m]].name, correlation});
      }
    }
  }
  return pairs;
}

std::string whole_report_json(const StoredFit& fit) {
  const std::optional<FitReport> report = report_from_json(fit.report);
  if (!report) return "null";
  Json json = Json::parse(fit.report);
  Json correlations = Json::array();
  for (const ParameterCorrelation& pair : high_correlations(fit)) {
    correlations.push_back({{"parameters", {pair.first, pair.second}}, {"correlation", pair.correlation}});
  }
  json["correlations"] = std::move(correlations);
  return json.dump();
}

}  // namespace lampload
