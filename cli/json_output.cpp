#include "cli/json_output.h"

#include <nlohmann/json.hpp>

#include "cli/capture_preview.h"
#include "cli/fitting.h"
#include "cli/json_text.h"
#include "cli/report_json.h"

namespace lampload {
namespace {

using Json = nlohmann::ordered_json;

using lampload::known;

template <class T>
Json known(const std::optional<T>& value) {
  return value ? Json(*value) : Json(nullptr);
}

const char* severity_name(Severity severity) {
  switch (severity) {
    case Severity::note:
      return "note";
    case Severity::warning:
      return "warning";
    case Severity::error:
      return "error";
  }
  return "error";
}

const char* edge_name(Edge edge) {
  switch (edge) {
    case Edge::none:
      return "none";
    case Edge::leading:
      return "leading";
    case Edge::trailing:
      return "trailing";
  }
  return "none";
}

const char* code_name(ErrorCode code) {
  switch (code) {
    case ErrorCode::usage:
      return "usage";
    case ErrorCode::input_refused:
      return "input_refused";
    case ErrorCode::not_found:
      return "not_found";
    case ErrorCode::library:
      return "library";
    case ErrorCode::calculation:
      return "calculation";
  }
  return "calculation";
}

Json json_of(const Figures& figures, const std::string& file) {
  Json inrush = nullptr;
  if (figures.inrush) {
    inrush = {{"peak_a", figures.inrush->peak_a},
              {"i2t_a2s", figures.inrush->i2t_a2s},
              {"width_s", figures.inrush->width_s},
              {"phase_deg", figures.inrush->phase_deg}};
  }
  Json quality = Json::array();
  for (const QualityNote& note : figures.quality) {
    Json evidence = Json::object();
    for (const Evidence& figure : note.evidence) evidence[figure.name] = figure.value;
    quality.push_back({{"code", note.code},
                       {"severity", severity_name(note.severity)},
                       {"message", note.message},
                       {"evidence", std::move(evidence)}});
  }
  Json dc = nullptr;
  if (figures.direct) {
    const Direct& direct = *figures.direct;
    dc = {{"voltage_mean_v", direct.voltage_mean_v},
          {"current_mean_a", direct.current_mean_a},
          {"on_voltage_v", direct.on_voltage_v},
          {"on_current_a", direct.on_current_a},
          {"voltage_ripple_percent", known(direct.voltage_ripple_percent)},
          {"current_ripple_percent", known(direct.current_ripple_percent)},
          {"pulse_frequency_hz", direct.pulses ? Json(direct.pulses->frequency_hz) : Json(nullptr)},
          {"duty", direct.pulses ? Json(direct.pulses->duty) : Json(nullptr)}};
  }
  return {{"file", file},
          {"samples", figures.samples},
          {"sample_rate_hz", figures.sample_rate_hz},
          {"duration_s", figures.duration_s},
          {"mains_frequency_hz", known(figures.mains_frequency_hz)},
          {"voltage_rms_v", figures.voltage_rms_v},
          {"current_rms_a", figures.current_rms_a},
          {"current_peak_a", figures.current_peak_a},
          {"active_power_w", figures.active_power_w},
          {"apparent_power_va", figures.apparent_power_va},
          {"power_factor", known(figures.power_factor)},
          {"displacement_factor", known(figures.displacement_factor)},
          {"current_crest_factor", known(figures.current_crest_factor)},
          {"current_thd_percent", known(figures.current_thd_percent)},
          {"cut", {{"edge", edge_name(figures.cut.edge)}, {"conduction_angle_deg", figures.cut.conduction_angle_deg}}},
          {"inrush", std::move(inrush)},
          {"quality", std::move(quality)},
          {"supply", figures.mains_frequency_hz ? "mains" : "dc"},
          {"dc", std::move(dc)}};
}

void add_preview(Json& json, const CapturePreview& preview, const Capture& capture) {
  Json columns = Json::array();
  for (const SourceColumn& column : preview.form.columns)
    columns.push_back({{"quantity", column.quantity}, {"name", column.name}, {"factor", column.factor}});
  json["form"] = {{"name", known(preview.form.name)},
                  {"certainty", preview.form.certainty},
                  {"reason", known(preview.form.reason)},
                  {"columns", std::move(columns)}};
  json["first_rows"] = Json::array();
  for (const auto& [time_s, voltage_v, current_a] : preview.first_rows)
    json["first_rows"].push_back({{"time_s", time_s}, {"voltage_v", voltage_v}, {"current_a", current_a}});
  json["segments"] = Json::array();
  const auto time_s = [&](std::size_t sample) {
    return capture.start_time_s + static_cast<double>(sample) * capture.sample_interval_s;
  };
  for (const Segment& one : preview.segments) {
    json["segments"].push_back({{"kind", segment_name(one.kind)},
                                {"start_s", time_s(one.first)},
                                {"end_s", time_s(one.last)},
                                {"edge", edge_name(one.cut.edge)},
                                {"conduction_angle_deg", one.cut.conduction_angle_deg},
                                {"current_rms_a", one.current_rms_a}});
  }
  json["harmonics"] = nullptr;
  if (!preview.current_groups_a) return;
  const HarmonicGroups& groups = *preview.current_groups_a;
  Json class_c = nullptr;
  if (preview.class_c) {
    class_c = {{"holds", preview.class_c->share <= 1.0},
               {"share", preview.class_c->share},
               {"order", preview.class_c->order},
               {"rule", known(preview.class_c->rule)},
               {"known", known(preview.class_c->known)}};
  }
  // By order, from 0 (the mean).
  json["harmonics"] = {{"cycles_of_a_window", groups.cycles},
                       {"windows", groups.windows},
                       {"current_groups_a", groups.rms},
                       {"class_c", std::move(class_c)},
                       {"no_class_c", known(preview.no_class_c)}};
}

Json json_of(const std::vector<StoredCapture>& captures) {
  Json list = Json::array();
  for (const StoredCapture& stored : captures) list.push_back(json_of(stored.figures, stored.capture.file));
  return list;
}

Json json_of(const std::vector<StoredEstimate>& estimates) {
  Json table = Json::object();
  for (const StoredEstimate& estimate : estimates) {
    table[estimate.name] = {
        {"value", estimate.value},
        {"unit", estimate.unit},
        {"standard_uncertainty", estimate.identified ? Json(estimate.standard_uncertainty) : Json(nullptr)},
        {"interval_95", {estimate.lower_95, estimate.upper_95}},
        {"identified", estimate.identified},
        {"remark", known(estimate.remark)}};
  }
  return table;
}

Json json_of(const std::vector<StoredSpread>& spreads) {
  Json table = Json::object();
  for (const StoredSpread& one : spreads) {
    table[one.name] = {{"spread", one.spread},
                       {"relative", one.relative},
                       {"interval_95", {one.lower_95, one.upper_95}},
                       {"measured", one.measured},
                       {"usual_share", one.usual_share}};
  }
  return table;
}

Json json_of(LoadSpread spread) {
  Json load = Json::object();
  for (const char* name : {"continuous_current", "repetitive_peak", "surge_peak", "surge_i2t"}) {
    const FigureSpread& figure = *spread.figure(name);
    load[name] = {{"spread", figure.spread},
                  {"interval_95", figure.upper_95 > 0.0 ? Json{figure.lower_95, figure.upper_95} : Json(nullptr)}};
  }
  return {{"samples", spread.samples}, {"source", spread.source}, {"load", std::move(load)}};
}

Json json_of(const StoredFit& fit, bool with_report = false);

/// What the fits of the samples have of their own.
Json samples_of(const StoredFit& fit, bool with_report) {
  Json samples = Json::array();
  for (const StoredFit& of_sample : fit.samples) {
    Json one = {{"sample", of_sample.sample},
                {"accepted", of_sample.accepted},
                {"verdict", of_sample.verdict},
                {"family", known(of_sample.family)},
                {"load_law", known(of_sample.load_law)},
                {"parameters", json_of(of_sample.parameters)},
                {"derived", json_of(of_sample.derived)},
                {"residual_rms_a", of_sample.residual_rms_a},
                {"normalised_residual", of_sample.normalised_residual}};
    if (with_report) one["report"] = Json::parse(whole_report_json(of_sample));
    samples.push_back(std::move(one));
  }
  return samples;
}

Json json_of(const StoredFit& fit, bool with_report) {
  Json rivals = Json::array();
  for (const StoredRival& rival : fit.rivals) {
    rivals.push_back({{"family", rival.family}, {"load_law", known(rival.load_law)}, {"distance", rival.distance}});
  }
  Json next = nullptr;
  if (!fit.next_capture.empty()) {
    next = {{"capture", fit.next_capture}, {"narrows", known(fit.next_narrows)}, {"sentence", fit.next_sentence}};
  }
  Json json = {{"accepted", fit.accepted},
               {"verdict", fit.verdict},
               {"family", known(fit.family)},
               {"load_law", known(fit.load_law)},
               {"parameters", json_of(fit.parameters)},
               {"derived", json_of(fit.derived)},
               {"residual_rms_a", fit.residual_rms_a},
               {"normalised_residual", fit.normalised_residual},
               {"rivals", std::move(rivals)},
               {"next_capture", std::move(next)},
               {"samples", samples_of(fit, with_report)},
               {"spread", nullptr}};
  if (fit.accepted) {
    json["spread"] = json_of(load_spread_of(fit));
    json["spread"]["parameters"] = json_of(fit.parameter_spreads);
    json["spread"]["derived"] = json_of(fit.derived_spreads);
  }
  if (with_report) json["report"] = Json::parse(whole_report_json(fit));
  return json;
}

Json json_of(const ConstraintResult& constraint) {
  return {{"name", constraint.name},
          {"value", constraint.value},
          {"limit", constraint.limit},
          {"unit", constraint.unit},
          {"max_lamps", known(constraint.max_lamps)},
          {"holds", constraint.holds},
          {"source", constraint.source},
          {"sentence", constraint.sentence},
          {"advice", constraint.advice}};
}

Json json_of(const ModeVerdict& verdict) {
  Json constraints = Json::array();
  for (const ConstraintResult& constraint : verdict.constraints) constraints.push_back(json_of(constraint));
  return {{"mode", mode_name(verdict.mode)},
          {"max_lamps", verdict.max_lamps},
          {"max_lamps_nominal", verdict.max_lamps_nominal},
          {"limited_by", known(verdict.limited_by)},
          {"next_limit", known(verdict.next_limit)},
          {"min_conduction_deg", verdict.min_conduction_deg},
          {"max_conduction_deg", verdict.max_conduction_deg},
          {"constraints", std::move(constraints)}};
}

Json json_of(const Recommendation& recommendation) {
  Json modes = Json::array();
  for (const ModeVerdict& verdict : recommendation.modes) modes.push_back(json_of(verdict));
  return {{"channel", recommendation.channel},
          {"mode", mode_name(recommendation.mode)},
          {"max_lamps", recommendation.max_lamps},
          {"max_lamps_nominal", recommendation.max_lamps_nominal},
          {"limited_by", known(recommendation.limited_by)},
          {"next_limit", known(recommendation.next_limit)},
          {"raise_by", known(recommendation.raise_by)},
          {"confidence", recommendation.confidence},
          {"confidence_reason", known(recommendation.confidence_reason)},
          {"min_conduction_deg", recommendation.min_conduction_deg},
          {"max_conduction_deg", recommendation.max_conduction_deg},
          {"modes", std::move(modes)},
          {"not_checked", recommendation.not_checked},
          {"cautions", recommendation.cautions},
          {"spread", json_of(recommendation.spread)}};
}

Json json_of(const MarginCost& cost) {
  return {{"central", cost.central},
          {"with_tolerance", cost.with_tolerance},
          {"with_uncertainty", cost.with_uncertainty},
          {"with_spread", cost.with_spread}};
}

Json json_of(const LoadCheck& check, int lamps) {
  Json constraints = Json::array();
  for (const CheckedConstraint& constraint : check.constraints) {
    constraints.push_back({{"name", constraint.name},
                           {"value", constraint.value},
                           {"value_nominal", constraint.nominal_value},
                           {"limit", constraint.limit},
                           {"unit", constraint.unit},
                           {"holds", constraint.holds}});
  }
  return {{"lamps", lamps}, {"holds", check.holds}, {"constraints", std::move(constraints)}};
}

Json json_of(const Provenance& provenance) {
  return {{"person", provenance.person},
          {"time_utc", provenance.time_utc},
          {"instrument", known(provenance.instrument)},
          {"program_version", provenance.program_version}};
}

Json json_of(const Basis& basis) {
  Json captures = Json::array();
  for (const BasisCapture& one : basis.captures) {
    captures.push_back({{"file", one.file},
                        {"sha256", one.sha256},
                        {"sample", one.sample},
                        {"measured", json_of(one.measured)},
                        {"samples_here", one.samples_here}});
  }
  Json received = nullptr;
  if (basis.origin) {
    const Origin& origin = *basis.origin;
    received = {{"name", origin.name},
                {"digest", origin.digest},
                {"content_digest", origin.content_digest},
                {"signer", known(origin.signer)},
                {"signer_name", known(origin.signer_name)},
                {"revoked_why", known(origin.revoked_why)},
                {"licence", known(origin.licence)},
                {"contributor", known(origin.contributor)},
                {"file", known(origin.file)},
                {"person", origin.person},
                {"time_utc", origin.time_utc},
                {"program_version", origin.program_version},
                {"fitted_here", origin.fitted_here}};
  }
  return {{"trust", trust_name(basis.trust)},
          {"model_digest", known(basis.model_digest)},
          {"captures", std::move(captures)},
          {"fitted", basis.fitted ? json_of(*basis.fitted) : Json(nullptr)},
          {"received", std::move(received)}};
}

Json json_of(const Advice& advice) {
  Json json = json_of(advice.recommendation);
  json["margins"] = advice.recommendation.margins ? json_of(*advice.recommendation.margins) : Json(nullptr);
  if (!advice.table.empty()) {
    Json table = Json::array();
    for (std::size_t i = 0; i < advice.table.size(); ++i) table.push_back(json_of(advice.table[i], advice.counts[i]));
    json["table"] = std::move(table);
  }
  if (advice.basis) json["basis"] = json_of(*advice.basis);
  return json;
}

}  // namespace

std::string inspect_json(const std::vector<StoredCapture>& captures) {
  Json list = Json::array();
  for (const StoredCapture& stored : captures) {
    Json capture = json_of(stored.figures, stored.capture.file);
    add_preview(capture, preview_of(stored), stored.capture);
    list.push_back(std::move(capture));
  }
  return document_text({{"captures", std::move(list)}});
}

std::string import_json(const std::string& lamp, const std::vector<StoredCapture>& captures) {
  return document_text({{"lamp", lamp}, {"captures", json_of(captures)}});
}

std::string fit_json(const std::string& lamp, const std::vector<StoredCapture>& captures, const StoredFit& fit,
                     bool with_report) {
  return document_text({{"lamp", lamp}, {"captures", json_of(captures)}, {"fit", json_of(fit, with_report)}});
}

std::string characterise_json(const std::string& lamp, const std::vector<StoredCapture>& captures, const StoredFit& fit,
                              const std::optional<Advice>& advice) {
  return document_text({{"lamp", lamp},
                        {"captures", json_of(captures)},
                        {"fit", json_of(fit)},
                        {"recommendation", advice ? json_of(*advice) : Json(nullptr)}});
}

std::string recommendation_json(const std::string& lamp, const Advice& advice) {
  return document_text({{"lamp", lamp}, {"recommendation", json_of(advice)}});
}

std::string recommendations_json(const std::string& lamp, const std::vector<Advice>& advice) {
  Json list = Json::array();
  for (const Advice& one : advice) list.push_back(json_of(one));
  return document_text({{"lamp", lamp}, {"recommendations", std::move(list)}});
}

std::string lamps_for_channel_json(const LampsForChannel& found) {
  DocumentWriter document;
  document.member("channel", found.channel);
  document.begin_list("lamps");
  for (const LampForChannel& one : found.lamps) {
    document.element({{"lamp", one.lamp},
                      {"family", known(one.family)},
                      {"mode", mode_name(one.mode)},
                      {"max_lamps", one.max_lamps},
                      {"max_lamps_nominal", one.max_lamps_nominal},
                      {"limited_by", known(one.limited_by)},
                      {"trust", trust_name(one.trust)}});
  }
  document.end_list();
  document.begin_list("not_looked_at");
  for (const NotLookedAt& one : found.others) document.element({{"lamp", one.lamp}, {"why", one.why}});
  document.end_list();
  document.member("not_checked", found.not_checked);
  return std::move(document).finish();
}

std::string spice_json(const WrittenCircuit& circuit) {
  return document_text({{"lamp", circuit.lamp},
                        {"subcircuit", circuit.subcircuit},
                        {"family", circuit.family},
                        {"load_law", known(circuit.load_law)},
                        {"scattered", circuit.scattered},
                        {"file", known(circuit.file)},
                        {"text", circuit.text},
                        {"cautions", circuit.cautions}});
}

std::string library_check_json(const std::string& path, const LibraryCheck& found) {
  return document_text({{"library", path},
                        {"whole", found.faults.empty()},
                        {"lamps", found.lamps},
                        {"captures", found.captures},
                        {"fits", found.fits},
                        {"channels", found.channels},
                        {"faults", found.faults}});
}

std::string salvage_json(const std::string& file, const Salvage& saved) {
  return document_text({{"written", file}, {"rows", saved.rows}, {"damaged", saved.damaged}});
}

std::string lamps_json(const std::vector<LampSummary>& lamps) {
  DocumentWriter document;
  document.begin_list("lamps");
  for (const LampSummary& lamp : lamps) {
    document.element({{"name", lamp.name},
                      {"family", known(lamp.family)},
                      {"load_law", known(lamp.load_law)},
                      {"power_w", known(lamp.power_w)},
                      {"voltage_rms_v", known(lamp.voltage_rms_v)},
                      {"captures", lamp.captures},
                      {"fits", lamp.fits},
                      {"time_utc", lamp.time_utc},
                      {"trust", trust_name(lamp.trust)},
                      {"base", known(lamp.base)},
                      {"technology", known(lamp.technology)}});
  }
  document.end_list();
  return std::move(document).finish();
}

namespace {

Json json_of(const std::vector<DcPoint>& points) {
  Json list = Json::array();
  for (const DcPoint& point : points) {
    list.push_back({{"voltage_v", point.voltage_v},
                    {"current_a", point.current_a},
                    {"uncertainty_a", known(point.uncertainty_a)}});
  }
  return list;
}

}  // namespace

namespace {

Json comparisons_of(const LampRecord& lamp) {
  Json list = Json::array();
  for (const StoredComparison& stored : lamp.comparisons) {
    const Comparison& made = stored.comparison;
    list.push_back({{"file", stored.file},
                    {"channel", made.channel},
                    {"mode", mode_name(made.mode)},
                    {"count", made.count},
                    {"agrees", made.agrees()},
                    {"finding", made.finding()},
                    {"with_newest_fit", lamp.fit && lamp.fit->id == stored.fit_id},
                    {"sha256", stored.sha256},
                    {"provenance", json_of(stored.provenance)}});
  }
  return list;
}

}  // namespace

std::string show_json(const LampRecord& lamp, bool with_report) {
  Json captures = Json::array();
  for (const StoredCapture& stored : lamp.captures) {
    Json capture = json_of(stored.figures, stored.capture.file);
    capture["sample"] = stored.sample;
    capture["sha256"] = stored.sha256;
    capture["samples_here"] = !stored.figures_only;
    capture["provenance"] = json_of(stored.provenance);
    captures.push_back(std::move(capture));
  }
  Json fit = nullptr;
  if (lamp.fit) {
    fit = json_of(*lamp.fit, with_report);
    fit["provenance"] = json_of(lamp.fit->provenance);
  }
  Json earlier = Json::array();
  for (const SupersededLamp& one : lamp.earlier) earlier.push_back({{"lamp", one.name}, {"time_utc", one.time_utc}});
  const Basis basis = basis_of(lamp);
  return document_text({{"lamp", lamp.name},
                        {"notes", known(lamp.notes)},
                        {"nominal",
                         {{"voltage_v", known(lamp.nominal.voltage_v)},
                          {"frequency_hz", known(lamp.nominal.frequency_hz)},
                          {"rated_power_w", known(lamp.nominal.rated_power_w)},
                          {"cold_resistance_ohm", known(lamp.nominal.cold_resistance_ohm)},
                          {"label_dimmable", known(lamp.nominal.label_dimmable)},
                          {"base", known(lamp.nominal.base)},
                          {"technology", known(lamp.nominal.technology)},
                          {"dc_points", json_of(lamp.nominal.dc_points)}}},
                        {"captures", std::move(captures)},
                        {"fit", std::move(fit)},
                        {"fits", lamp.fits},
                        {"comparisons", comparisons_of(lamp)},
                        {"basis", json_of(basis)},
                        {"caution", known(caution_of(lamp.name, basis.trust, basis.origin))},
                        {"superseded_by", known(lamp.superseded_by)},
                        {"earlier", std::move(earlier)}});
}

std::string channel_names_json(const std::vector<Channel>& channels) {
  std::vector<std::string> names;
  for (const Channel& channel : channels) names.push_back(channel.name);
  return names_json("channels", names);
}

std::string names_json(const std::string& key, const std::vector<std::string>& names) {
  return document_text({{key, names}});
}

std::string error_json(const Error& error) {
  const Place& place = error.place();
  return document_text({{"error",
                         {{"code", code_name(error.code())},
                          {"message", error.message()},
                          {"file", known(place.file)},
                          {"line", known(place.line)},
                          {"column", known(place.column)},
                          {"key", known(place.key)},
                          {"remedy", known(error.remedy())}}}});
}

}  // namespace lampload
