#include "cli/fitting.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "cli/measuring.h"
#include "cli/report_json.h"
#include "core/advice/screening.h"
#include "core/error.h"
#include "core/waveform/segments.h"
#include "db/channel_file.h"
#include "fit/lamp_type.h"

namespace lampload {
namespace {

StoredEstimate stored(const Estimate& estimate) {
  return {estimate.name,     estimate.unit,     estimate.value,      estimate.standard_uncertainty,
          estimate.lower_95, estimate.upper_95, estimate.identified, estimate.remark};
}

Estimate restored(const StoredEstimate& estimate) {
  return {estimate.name,     estimate.unit,     estimate.value,      estimate.standard_uncertainty,
          estimate.lower_95, estimate.upper_95, estimate.identified, estimate.remark};
}

StoredFit stored(const FitResult& fit) {
  StoredFit record;
  record.accepted = fit.accepted;
  record.verdict = fit.verdict;
  record.family = fit.family;
  record.load_law = fit.load_law;
  for (const Estimate& estimate : fit.parameters) record.parameters.push_back(stored(estimate));
  for (const Estimate& estimate : fit.derived) record.derived.push_back(stored(estimate));
  record.covariance = fit.covariance;
  record.residual_rms_a = fit.residual_rms_a;
  record.normalised_residual = fit.normalised_residual;
  for (const Rival& rival : fit.rivals) record.rivals.push_back({rival.family, rival.load_law, rival.distance});
  record.next_capture = fit.next_capture.capture;
  record.next_narrows = fit.next_capture.narrows;
  record.next_sentence = fit.next_capture.sentence;
  record.seed = fit.seed;
  record.report = report_to_json(fit.report);
  return record;
}

std::vector<StoredSpread> stored(const std::vector<NamedSpread>& spreads) {
  std::vector<StoredSpread> list;
  for (const NamedSpread& one : spreads) {
    list.push_back({one.name, one.relative, static_cast<int>(one.known.pieces), one.known.spread, one.known.lower_95,
                    one.known.upper_95, one.known.measured, one.known.usual_share});
  }
  return list;
}

/// A record in which the dimmer is turned counts as one capture for each of its settings.
std::vector<SampleCaptures> by_sample(const std::vector<StoredCapture>& captures, const Nominal& nominal) {
  std::vector<SampleCaptures> samples;
  for (const StoredCapture& capture : captures) {
    auto of_it = std::find_if(samples.begin(), samples.end(),
                              [&](const SampleCaptures& sample) { return sample.label == capture.sample; });
    if (of_it == samples.end()) of_it = samples.insert(samples.end(), SampleCaptures{capture.sample, {}, {}});
    std::vector<Capture> parts = captures_by_setting(capture.capture, capture.figures);
    if (parts.empty()) {
      of_it->captures.push_back(capture.capture);
      of_it->figures.push_back(capture.figures);
    }
    for (Capture& part : parts) {
      of_it->figures.push_back(measure(part, nominal));
      of_it->captures.push_back(std::move(part));
    }
  }
  return samples;
}

}  // namespace

StoredFit fit_captures(const std::vector<StoredCapture>& captures, const Nominal& nominal, Telling telling) {
  StoredFit record;
  OperatingPoint at;
  Progress progress("fitting", telling);
  FitOptions options;
  options.nominal = nominal;
  options.progress = [&progress](double share) { progress.show(share); };
  try {
    const std::vector<SampleCaptures> samples = by_sample(captures, nominal);
    for (const SampleCaptures& sample : samples) {
      progress.note(
          fmt::format("{} captures{}", sample.captures.size(), sample.label.empty() ? "" : " of " + sample.label));
    }
    const LampTypeFit fit = fit_lamp_type(samples, options);
    record = stored(fit.type);
    at = fit.type.at;
    if (!fit.parameters.empty()) record.report.clear();  // a mean came about by its samples' fits
    for (const SampleFit& sample : fit.samples) {
      record.samples.push_back(stored(sample.fit));
      record.samples.back().sample = sample.label;
    }
    if (record.accepted) record.spread_source = fit.type.load_spread.source;
    record.parameter_spreads = stored(fit.parameters);
    record.derived_spreads = stored(fit.derived);
    record.load_spreads = stored(fit.load);
  } catch (const Error& error) {
    if (error.code() != ErrorCode::calculation) throw;
    record.verdict = error.message();
    record.seed = options.seed;
  }
  progress.note(record.verdict);
  if (record.accepted) record.screening = figures_for_screening(record, captures, nominal, at);
  record.provenance = provenance_now("");
  for (StoredFit& sample : record.samples) sample.provenance = record.provenance;
  for (const StoredCapture& capture : captures) {
    if (capture.id == 0) continue;
    record.capture_ids.push_back(capture.id);
    for (StoredFit& sample : record.samples) {
      if (sample.sample == capture.sample) sample.capture_ids.push_back(capture.id);
    }
  }
  return record;
}

std::optional<ScreeningFigures> figures_for_screening(const StoredFit& fit, const std::vector<StoredCapture>& captures,
                                                      const Nominal& nominal, const OperatingPoint& at) {
  try {
    return screening_figures(evidence_of("", fit, captures, nominal), at.voltage_v, at.frequency_hz);
  } catch (const Error& error) {
    if (error.code() != ErrorCode::calculation) throw;
    return std::nullopt;
  }
}

LoadSpread load_spread_of(const StoredFit& fit) {
  LoadSpread spread;
  for (const StoredSpread& one : fit.load_spreads) {
    spread.samples = one.samples;
    spread.source = fit.spread_source;
    if (FigureSpread* figure = spread.figure(one.name)) *figure = {one.spread, one.lower_95, one.upper_95};
  }
  return spread;
}

LampEvidence evidence_of(const std::string& name, const std::optional<StoredFit>& fit,
                         const std::vector<StoredCapture>& captures, const Nominal& nominal) {
  FitResult result;
  std::vector<Figures> figures;
  if (fit) {
    result.accepted = fit->accepted;
    result.family = fit->family;
    result.load_law = fit->load_law;
    for (const StoredEstimate& estimate : fit->parameters) result.parameters.push_back(restored(estimate));
    result.covariance = fit->covariance;
    result.load_spread = load_spread_of(*fit);
  }
  for (const StoredCapture& capture : captures) {
    const bool all = !fit || fit->capture_ids.empty() || capture.id == 0;
    if (all || std::find(fit->capture_ids.begin(), fit->capture_ids.end(), capture.id) != fit->capture_ids.end()) {
      figures.push_back(capture.figures);
    }
  }
  return evidence(name, result, figures, nominal);
}

LampEvidence evidence_of(const LampRecord& lamp, const Nominal& nominal) {
  LampEvidence evidence = evidence_of(lamp.name, lamp.fit, lamp.captures, nominal);
  for (const StoredComparison& stored : lamp.comparisons) {
    if (!lamp.fit || stored.fit_id != lamp.fit->id) continue;
    const Comparison& made = stored.comparison;
    evidence.compared.push_back(
        {made.channel, made.mode, made.count, stored.provenance.time_utc, made.agrees(), made.finding()});
  }
  return evidence;
}

ChosenChannel choose_channel(const std::string& name_or_file, const LibraryOption& library) {
  std::error_code unknown;
  if (std::filesystem::is_regular_file(name_or_file, unknown)) return {read_channel_file(name_or_file), true};
  if (library.holds_nothing_yet()) {
    throw Error(ErrorCode::not_found, "'" + name_or_file + "' is not a file, and no channels are stored yet", Place{},
                "Give the path of a channel file, or add one with 'lampload channels add FILE'");
  }
  return {library.open_existing(Library::Access::read_only).channel(name_or_file), false};
}

}  // namespace lampload
