#include "db/comparison_rows.h"

#include <fmt/format.h>

#include <array>
#include <cmath>

#include "core/error.h"
#include "db/statement.h"

namespace lampload::rows {
namespace {

constexpr std::array<Mode, 3> modes = {Mode::leading_edge, Mode::trailing_edge, Mode::on_off};

Mode mode_of(const std::string& name) {
  for (const Mode mode : modes) {
    if (mode_name(mode) == name) return mode;
  }
  throw Error(ErrorCode::library, fmt::format("a comparison holds the unknown mode '{}'", name));
}

void check(const StoredComparison& stored) {
  for (const auto* list : {&stored.comparison.figures, &stored.comparison.constraints}) {
    for (const Compared& one : *list) {
      for (const double value : {one.measured, one.predicted, one.lower, one.upper, one.limit.value_or(0.0)}) {
        if (!std::isfinite(value)) {
          throw Error(ErrorCode::input_refused, fmt::format("{} of a comparison is not finite", one.name));
        }
      }
    }
  }
}

void store_values(SQLite::Database& db, std::int64_t comparison, const std::string& kind,
                  const std::vector<Compared>& values) {
  SQLite::Statement insert(db, "INSERT INTO comparison_values VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
  for (std::size_t i = 0; i < values.size(); ++i) {
    const Compared& one = values[i];
    Bind{insert}(comparison)(kind)(static_cast<std::int64_t>(i))(one.name)(one.unit)(one.measured)(one.predicted)(
        one.lower)(one.upper)(one.limit);
    insert.exec();
    insert.reset();
  }
}

std::vector<Compared> values_of(SQLite::Database& db, std::int64_t comparison, const std::string& kind) {
  SQLite::Statement select(db,
                           "SELECT name, unit, measured, predicted, lower, upper, limit_value FROM comparison_values "
                           "WHERE comparison_id = ? AND kind = ? ORDER BY position");
  Bind{select}(comparison)(kind);
  std::vector<Compared> list;
  while (select.executeStep()) {
    Compared& one = list.emplace_back();
    Row{select}(one.name)(one.unit)(one.measured)(one.predicted)(one.lower)(one.upper)(one.limit);
  }
  return list;
}

}  // namespace

void store_comparison(SQLite::Database& db, std::int64_t lamp_type, std::int64_t fit, const StoredComparison& stored) {
  check(stored);
  const Comparison& made = stored.comparison;
  const std::string mode = mode_name(made.mode);
  SQLite::Statement clear(db,
                          "DELETE FROM comparisons WHERE lamp_type_id = ? AND fit_id = ? AND channel = ? AND mode = ? "
                          "AND lamps = ? AND sha256 = ?");
  Bind{clear}(lamp_type)(fit)(made.channel)(mode)(static_cast<std::int64_t>(made.count))(stored.sha256);
  clear.exec();
  SQLite::Statement insert(db, R"(
    INSERT INTO comparisons (lamp_type_id, fit_id, channel, mode, lamps, conduction_deg, supply_v, phase_deg, file,
                             sha256, person, time_utc, instrument, program_version)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?))");
  Bind{insert}(lamp_type)(fit)(made.channel)(mode)(static_cast<std::int64_t>(made.count))(made.conduction_deg)(
      made.supply_v)(made.phase_deg)(stored.file)(stored.sha256)(stored.provenance.person)(stored.provenance.time_utc)(
      stored.provenance.instrument)(stored.provenance.program_version);
  insert.exec();
  const std::int64_t id = db.getLastInsertRowid();
  store_values(db, id, "figure", made.figures);
  store_values(db, id, "constraint", made.constraints);
}

std::vector<StoredComparison> comparisons_of(SQLite::Database& db, std::int64_t lamp_type) {
  SQLite::Statement select(db, R"(
    SELECT id, fit_id, channel, mode, lamps, conduction_deg, supply_v, phase_deg, file, sha256, person, time_utc,
           instrument, program_version
    FROM comparisons WHERE lamp_type_id = ? ORDER BY id)");
  Bind{select}(lamp_type);
  std::vector<StoredComparison> list;
  while (select.executeStep()) {
    StoredComparison& stored = list.emplace_back();
    Comparison& made = stored.comparison;
    std::string mode;
    Row{select}(stored.id)(stored.fit_id)(made.channel)(mode)(made.count)(made.conduction_deg)(made.supply_v)(
        made.phase_deg)(stored.file)(stored.sha256)(stored.provenance.person)(stored.provenance.time_utc)(
        stored.provenance.instrument)(stored.provenance.program_version);
    made.mode = mode_of(mode);
  }
  for (StoredComparison& stored : list) {
    stored.comparison.figures = values_of(db, stored.id, "figure");
    stored.comparison.constraints = values_of(db, stored.id, "constraint");
  }
  return list;
}

}  // namespace lampload::rows
