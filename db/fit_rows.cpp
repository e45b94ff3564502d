#include "db/fit_rows.h"

#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <span>
#include <string>
#include <utility>

#include "core/error.h"
#include "db/packing.h"
#include "db/statement.h"

namespace lampload::rows {
namespace {

void require_finite(double value, const std::string& name) {
  if (!std::isfinite(value)) {
    throw Error(ErrorCode::input_refused, fmt::format("{} of the fit is not a finite number", name));
  }
}

void check(const StoredFit& fit) {
  require_finite(fit.residual_rms_a, "residual_rms_a");
  require_finite(fit.normalised_residual, "normalised_residual");
  for (const double value : fit.covariance) require_finite(value, "the covariance");
  for (const StoredRival& rival : fit.rivals) require_finite(rival.distance, "the distance of " + rival.family);
  require_sound(fit.parameters);
  require_sound(fit.derived);
  for (const auto* list : {&fit.parameter_spreads, &fit.derived_spreads, &fit.load_spreads}) {
    for (const StoredSpread& one : *list) {
      for (const double value : {one.spread, one.lower_95, one.upper_95, one.measured, one.usual_share})
        require_finite(value, "the spread of " + one.name);
    }
  }
  const std::size_t n = fit.parameters.size();
  if (!fit.covariance.empty() && fit.covariance.size() != n * n) {
    throw Error(ErrorCode::input_refused,
                fmt::format("the covariance has {} entries for {} parameters", fit.covariance.size(), n));
  }
}

void store_captures(SQLite::Database& db, std::int64_t lamp_type, std::int64_t fit,
                    std::span<const std::int64_t> capture_ids) {
  SQLite::Statement insert(db,
                           "INSERT OR IGNORE INTO fit_captures SELECT ?, id FROM captures WHERE id = ? AND "
                           "lamp_type_id = ? RETURNING capture_id");
  SQLite::Statement known(db, "SELECT 1 FROM fit_captures WHERE fit_id = ? AND capture_id = ?");
  for (const std::int64_t id : capture_ids) {
    Bind{insert}(fit)(id)(lamp_type);
    while (insert.executeStep()) {
    }
    insert.reset();
    Bind{known}(fit)(id);
    if (!known.executeStep()) {
      throw Error(ErrorCode::input_refused, fmt::format("the fit names capture {}, which this lamp does not have", id));
    }
    known.reset();
  }
}

void store_spreads(SQLite::Database& db, std::int64_t fit, const std::string& kind,
                   const std::vector<StoredSpread>& spreads) {
  SQLite::Statement insert(db, "INSERT INTO fit_spreads VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
  for (std::size_t i = 0; i < spreads.size(); ++i) {
    const StoredSpread& one = spreads[i];
    Bind{insert}(fit)(kind)(static_cast<std::int64_t>(i))(one.name)(one.relative)(
        static_cast<std::int64_t>(one.samples))(one.spread)(one.lower_95)(one.upper_95)(one.measured)(one.usual_share);
    insert.exec();
    insert.reset();
  }
}

std::vector<StoredSpread> spreads_of(SQLite::Database& db, std::int64_t fit, const std::string& kind) {
  SQLite::Statement select(db,
                           "SELECT name, relative, samples, spread, lower_95, upper_95, measured, usual_share "
                           "FROM fit_spreads WHERE fit_id = ? AND kind = ? ORDER BY position");
  Bind{select}(fit)(kind);
  std::vector<StoredSpread> list;
  while (select.executeStep()) {
    StoredSpread& one = list.emplace_back();
    Row{select}(one.name)(one.relative)(one.samples)(one.spread)(one.lower_95)(one.upper_95)(one.measured)(
        one.usual_share);
  }
  return list;
}

/// type_fit: the fit of the lamp type that this one is a sample's of; empty: it is the type's itself.
std::int64_t store_one(SQLite::Database& db, std::int64_t lamp_type, const StoredFit& fit,
                       std::optional<std::int64_t> type_fit) {
  check(fit);
  if (!is_report(db, fit.report)) throw Error(ErrorCode::input_refused, "the report of the fit is not JSON");
  const std::string covariance = packing::packed_covariance(fit.covariance);
  const std::string report = packing::packed_report(fit.report);
  const std::string estimates = packing::packed_estimates({fit.parameters, fit.derived});
  SQLite::Statement insert(db, R"(
    INSERT INTO fits (lamp_type_id, accepted, verdict, family, load_law, residual_rms_a, normalised_residual,
                      next_capture, next_narrows, next_sentence, seed, person, time_utc, instrument, program_version,
                      type_fit_id, sample, spread_source, covariance, report, estimates)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?))");
  Bind{insert}(lamp_type)(fit.accepted)(fit.verdict)(fit.family)(fit.load_law)(fit.residual_rms_a)(
      fit.normalised_residual)(fit.next_capture)(fit.next_narrows)(fit.next_sentence)(
      std::bit_cast<std::int64_t>(fit.seed))(fit.provenance.person)(fit.provenance.time_utc)(fit.provenance.instrument)(
      fit.provenance.program_version)(type_fit)(fit.sample)(fit.spread_source)
      .blob(covariance)
      .blob(report)
      .blob(estimates);
  insert.exec();
  const std::int64_t id = db.getLastInsertRowid();

  store_spreads(db, id, "parameter", fit.parameter_spreads);
  store_spreads(db, id, "derived", fit.derived_spreads);
  store_spreads(db, id, "load", fit.load_spreads);
  SQLite::Statement rival(db, "INSERT INTO fit_rivals VALUES (?, ?, ?, ?, ?)");
  for (std::size_t i = 0; i < fit.rivals.size(); ++i) {
    Bind{rival}(id)(static_cast<std::int64_t>(i))(fit.rivals[i].family)(fit.rivals[i].load_law)(fit.rivals[i].distance);
    rival.exec();
    rival.reset();
  }
  store_captures(db, lamp_type, id, fit.capture_ids);
  for (const StoredFit& of_sample : fit.samples) store_one(db, lamp_type, of_sample, id);
  return id;
}

/// The rows that the condition with its one number names.
std::vector<StoredFit> fits_where(SQLite::Database& db, const std::string& condition, std::int64_t number) {
  SQLite::Statement select(db, fmt::format(R"(
    SELECT id, accepted, verdict, family, load_law, residual_rms_a, normalised_residual, next_capture, next_narrows,
           next_sentence, seed, person, time_utc, instrument, program_version, report, sample, spread_source, covariance,
           estimates
    FROM fits WHERE {})",
                                           condition));
  Bind{select}(number);
  std::vector<StoredFit> list;
  while (select.executeStep()) {
    StoredFit& fit = list.emplace_back();
    std::int64_t seed = 0;
    std::string covariance;
    std::string report;
    std::string estimates;
    Row{select}(fit.id)(fit.accepted)(fit.verdict)(fit.family)(fit.load_law)(fit.residual_rms_a)(
        fit.normalised_residual)(fit.next_capture)(fit.next_narrows)(fit.next_sentence)(seed)(fit.provenance.person)(
        fit.provenance.time_utc)(fit.provenance.instrument)(fit.provenance.program_version)(report)(fit.sample)(
        fit.spread_source)(covariance)(estimates);
    fit.seed = std::bit_cast<std::uint64_t>(seed);
    fit.covariance = packing::covariance_of(covariance);
    fit.report = packing::report_of(report);
    FitEstimates unpacked = packing::estimates_of(estimates);
    fit.parameters = std::move(unpacked.parameters);
    fit.derived = std::move(unpacked.derived);
  }
  for (StoredFit& fit : list) {
    fit.parameter_spreads = spreads_of(db, fit.id, "parameter");
    fit.derived_spreads = spreads_of(db, fit.id, "derived");
    fit.load_spreads = spreads_of(db, fit.id, "load");

    SQLite::Statement rivals(db,
                             "SELECT family, load_law, distance FROM fit_rivals WHERE fit_id = ? ORDER BY position");
    Bind{rivals}(fit.id);
    while (rivals.executeStep()) {
      StoredRival& rival = fit.rivals.emplace_back();
      Row{rivals}(rival.family)(rival.load_law)(rival.distance);
    }
    SQLite::Statement captures(db, "SELECT capture_id FROM fit_captures WHERE fit_id = ? ORDER BY capture_id");
    Bind{captures}(fit.id);
    while (captures.executeStep()) fit.capture_ids.push_back(captures.getColumn(0).getInt64());
  }
  return list;
}

}  // namespace

void require_sound(std::span<const StoredEstimate> estimates) {
  for (const StoredEstimate& one : estimates) {
    if (one.name.empty()) throw Error(ErrorCode::input_refused, "an estimate of the fit has no name");
    for (const double value : {one.value, one.standard_uncertainty, one.lower_95, one.upper_95}) {
      require_finite(value, one.name);
    }
    if (one.standard_uncertainty < 0.0 || one.upper_95 < one.lower_95) {
      throw Error(ErrorCode::input_refused,
                  fmt::format("{} of the fit has the uncertainty {:g} and the interval {:g} to {:g}", one.name,
                              one.standard_uncertainty, one.lower_95, one.upper_95));
    }
  }
}

bool is_report(SQLite::Database& db, const std::string& text) {
  SQLite::Statement valid(db, "SELECT ?1 = '' OR json_valid(?1)");
  Bind{valid}(text);
  valid.executeStep();
  return valid.getColumn(0).getInt() != 0;
}

std::int64_t store_fit(SQLite::Database& db, std::int64_t lamp_type, const StoredFit& fit) {
  return store_one(db, lamp_type, fit, std::nullopt);
}

std::optional<StoredFit> newest_fit(SQLite::Database& db, std::int64_t lamp_type) {
  std::vector<StoredFit> newest =
      fits_where(db, "lamp_type_id = ? AND type_fit_id IS NULL ORDER BY id DESC LIMIT 1", lamp_type);
  if (newest.empty()) return std::nullopt;
  newest.front().samples = fits_where(db, "type_fit_id = ? ORDER BY id", newest.front().id);
  return std::move(newest.front());
}

}  // namespace lampload::rows
