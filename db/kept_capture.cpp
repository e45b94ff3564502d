#include "db/kept_capture.h"

#include <string_view>

#include "core/error.h"
#include "db/figures_json.h"
#include "db/statement.h"
#include "db/waveform_blob.h"

namespace lampload::rows {

KeptCapture kept_capture(SQLite::Database& db, std::int64_t id) {
  SQLite::Statement select(db, R"(
    SELECT start_time_s, sample_interval_s, voltage_step_v, current_step_a, sample_count, notes, options, figures, sha256,
           program_version, received, voltage_v, current_a, clipped
    FROM captures WHERE id = ?)");
  Bind{select}(id);
  if (!select.executeStep()) throw Error(ErrorCode::library, "cannot be read");
  KeptCapture kept;
  Capture& capture = kept.capture;
  std::int64_t count = 0;
  std::string notes;
  std::string options;
  std::string figures;
  Row{select}(capture.start_time_s)(capture.sample_interval_s)(capture.voltage_step_v)(capture.current_step_a)(
      count)(notes)(options)(figures)(kept.sha256)(kept.program_version)(kept.received);
  capture.notes = notes_from_json(notes);
  options_from_json(options);
  kept.figures = figures_from_json(figures);
  const auto bytes = [&](const char* column) {
    const SQLite::Column value = select.getColumn(column);
    return std::string_view(static_cast<const char*>(value.getBlob()), static_cast<std::size_t>(value.getBytes()));
  };
  if (bytes("voltage_v").empty()) return kept;
  const auto samples = static_cast<std::size_t>(count);
  capture.voltage_v = blob::unpack(bytes("voltage_v"), samples);
  capture.current_a = blob::unpack(bytes("current_a"), samples);
  if (!select.getColumn("clipped").isNull()) capture.clipped = blob::unpack_bytes(bytes("clipped"), samples);
  return kept;
}

}  // namespace lampload::rows
