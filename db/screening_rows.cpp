#include "db/screening_rows.h"

#include <fmt/format.h>

#include "core/error.h"
#include "db/packing.h"
#include "db/received_rows.h"
#include "db/statement.h"

namespace lampload::rows {

void store_screening(SQLite::Database& db, std::int64_t lamp_type, std::int64_t fit,
                     const std::optional<ScreeningFigures>& figures) {
  SQLite::Statement clear(db, "DELETE FROM screening WHERE lamp_type_id = ?");
  Bind{clear}(lamp_type);
  clear.exec();
  if (!figures) return;
  const std::string frame = packing::packed_screening(figures->packed());
  SQLite::Statement insert(db, "INSERT INTO screening VALUES (?, ?, ?, ?, ?)");
  Bind{insert}(lamp_type)(fit)(figures->voltage_v)(figures->frequency_hz).blob(frame);
  insert.exec();
}

void screening(SQLite::Database& db, const std::function<void(const std::vector<LampScreening>&)>& take) {
  constexpr std::size_t at_once = 4000;
  SQLite::Statement select(db, fmt::format(R"(
    SELECT lamp_types.name, family, load_law, label_dimmable, voltage_v, frequency_hz, figures, {}
    FROM lamp_types LEFT JOIN screening ON screening.lamp_type_id = lamp_types.id
    WHERE superseded_by IS NULL ORDER BY lamp_types.id)",
                                           trust_column));
  std::vector<LampScreening> some;
  some.reserve(at_once);
  while (select.executeStep()) {
    LampScreening& lamp = some.emplace_back();
    int trust = 0;
    // without a row all three are NULL, which reads as zero and nothing
    Row{select}(lamp.lamp)(lamp.family)(lamp.load_law)(lamp.label_dimmable)(lamp.voltage_v)(lamp.frequency_hz)(
        lamp.packed)(trust);
    lamp.trust = static_cast<Trust>(trust);
    if (some.size() < at_once) continue;
    take(some);
    some.clear();
  }
  if (!some.empty()) take(some);
}

}  // namespace lampload::rows

namespace lampload {

std::optional<ScreeningFigures> LampScreening::figures() const {
  if (packed.empty()) return std::nullopt;
  std::optional<ScreeningFigures> unpacked = ScreeningFigures::unpacked(packing::screening_of(packed));
  if (unpacked) {
    unpacked->voltage_v = voltage_v;
    unpacked->frequency_hz = frequency_hz;
  }
  return unpacked;
}

}  // namespace lampload
