#include "db/screening_rows.h"

#include <fmt/format.h>

#include <cmath>

#include "core/error.h"
#include "db/received_rows.h"
#include "db/statement.h"
#include "db/waveform_blob.h"

namespace lampload::rows {

void store_screening(SQLite::Database& db, std::int64_t lamp_type, std::int64_t fit,
                     const std::optional<ScreeningFigures>& figures) {
  SQLite::Statement clear(db, "DELETE FROM screening WHERE lamp_type_id = ?");
  Bind{clear}(lamp_type);
  clear.exec();
  if (!figures) return;
  const std::vector<double> values = figures->packed();
  for (const double value : values) {
    if (!std::isfinite(value)) throw Error(ErrorCode::input_refused, "a figure for screening is not finite");
  }
  const std::string bytes = blob::plain(values);
  SQLite::Statement insert(db, "INSERT INTO screening VALUES (?, ?, ?, ?, ?)");
  Bind{insert}(lamp_type)(fit)(figures->voltage_v)(figures->frequency_hz).blob(bytes);
  insert.exec();
}

std::vector<LampScreening> screening(SQLite::Database& db) {
  SQLite::Statement select(db, fmt::format(R"(
    SELECT lamp_types.name, family, load_law, label_dimmable, voltage_v, frequency_hz, figures, {}
    FROM lamp_types LEFT JOIN screening ON screening.lamp_type_id = lamp_types.id
    WHERE superseded_by IS NULL ORDER BY lamp_types.name)",
                                           trust_column));
  std::vector<LampScreening> list;
  while (select.executeStep()) {
    LampScreening& lamp = list.emplace_back();
    std::optional<double> voltage_v;
    std::optional<double> frequency_hz;
    std::optional<std::string> bytes;
    int trust = 0;
    Row{select}(lamp.lamp)(lamp.family)(lamp.load_law)(lamp.label_dimmable)(voltage_v)(frequency_hz)(bytes)(trust);
    lamp.trust = static_cast<Trust>(trust);
    if (!bytes || !voltage_v || !frequency_hz) continue;
    lamp.figures = ScreeningFigures::unpacked(blob::from_plain(*bytes));
    if (!lamp.figures) continue;
    lamp.figures->voltage_v = *voltage_v;
    lamp.figures->frequency_hz = *frequency_hz;
  }
  return list;
}

}  // namespace lampload::rows
