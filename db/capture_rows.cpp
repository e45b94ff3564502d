#include "db/capture_rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <string>

#include "core/error.h"
#include "db/figures_json.h"
#include "db/statement.h"
#include "db/waveform_blob.h"

namespace lampload::rows {
namespace {

void check(const StoredCapture& stored) {
  const Capture& capture = stored.capture;
  const auto refuse = [&](std::string message) {
    return Error(ErrorCode::input_refused, std::move(message), Place{.file = capture.file});
  };
  const auto finite = [](std::span<const double> values) {
    return std::all_of(values.begin(), values.end(), [](double value) { return std::isfinite(value); });
  };
  const bool none = capture.voltage_v.empty() && capture.current_a.empty();
  if (stored.figures_only != none || capture.voltage_v.size() != capture.current_a.size()) {
    throw refuse(fmt::format("{} voltage and {} current samples; as many of both, and at least one, were expected",
                             capture.voltage_v.size(), capture.current_a.size()));
  }
  if (!capture.clipped.empty() && capture.clipped.size() != capture.samples()) {
    throw refuse(fmt::format("{} clipping marks for {} samples", capture.clipped.size(), capture.samples()));
  }
  if (!finite(capture.voltage_v) || !finite(capture.current_a)) throw refuse("a sample is not a finite number");
  if (stored.sha256.size() != 64) throw refuse("the digest of the file is missing");
}

std::int64_t sample_row(SQLite::Database& db, std::int64_t lamp_type, const std::string& label) {
  SQLite::Statement insert(db, "INSERT INTO samples (lamp_type_id, label) VALUES (?, ?) ON CONFLICT DO NOTHING");
  Bind{insert}(lamp_type)(label);
  insert.exec();
  SQLite::Statement select(db, "SELECT id FROM samples WHERE lamp_type_id = ? AND label = ?");
  Bind{select}(lamp_type)(label);
  select.executeStep();
  return select.getColumn(0).getInt64();
}

std::string_view blob_of(const SQLite::Column& column) {
  return {static_cast<const char*>(column.getBlob()), static_cast<std::size_t>(column.getBytes())};
}

/// Of a capture that came without its samples the recording itself was read here: what it shows takes the place of what
/// was said of it. Who measured it stays.
void complete(SQLite::Database& db, std::int64_t id, const Capture& capture, const Figures& figures) {
  const std::string voltage = blob::pack(capture.voltage_v);
  const std::string current = blob::pack(capture.current_a);
  const std::string clipped = blob::pack_bytes(capture.clipped);
  SQLite::Statement update(db, R"(
    UPDATE captures SET start_time_s = ?, sample_interval_s = ?, sample_count = ?, voltage_step_v = ?,
      current_step_a = ?, codec = ?, notes = ?, figures = ?, voltage_v = ?, current_a = ?, clipped = ?
    WHERE id = )" + std::to_string(id));
  Bind bind{update};
  bind(capture.start_time_s)(capture.sample_interval_s)(static_cast<std::int64_t>(capture.samples()))(
      capture.voltage_step_v)(capture.current_step_a)(std::string(blob::codec))(notes_to_json(capture.notes))(
      figures_to_json(figures));
  bind.blob(voltage).blob(current);
  if (!capture.clipped.empty()) bind.blob(clipped);
  update.exec();
}

}  // namespace

std::int64_t store_capture(SQLite::Database& db, std::int64_t lamp_type, const StoredCapture& stored) {
  check(stored);
  const Capture& capture = stored.capture;
  const std::string options = options_to_json(stored.options);
  const std::string voltage_column = stored.options.voltage_column.value_or("");
  const std::string current_column = stored.options.current_column.value_or("");

  SQLite::Statement same(
      db,
      "SELECT captures.id, options, label, length(voltage_v) = 0 FROM captures JOIN samples ON samples.id = sample_id "
      "WHERE captures.lamp_type_id = ? AND sha256 = ? AND voltage_column = ? AND current_column = ?");
  Bind{same}(lamp_type)(stored.sha256)(voltage_column)(current_column);
  std::string sample = stored.sample.empty() ? first_sample : stored.sample;
  if (same.executeStep()) {
    const std::string stored_with = same.getColumn(2).getString();
    if (stored.sample.empty()) sample = stored_with;
    if (same.getColumn(1).getString() == options && stored_with == sample) {
      const std::int64_t id = same.getColumn(0).getInt64();
      const bool lacks_samples = same.getColumn(3).getInt() != 0;
      same.reset();
      if (lacks_samples && !stored.figures_only) complete(db, id, capture, stored.figures);
      return id;
    }
  }
  same.reset();

  const std::string voltage = stored.figures_only ? "" : blob::pack(capture.voltage_v);
  const std::string current = stored.figures_only ? "" : blob::pack(capture.current_a);
  const std::string clipped = blob::pack_bytes(capture.clipped);
  if (std::max(voltage.size(), current.size()) > std::numeric_limits<int>::max()) {
    throw Error(ErrorCode::input_refused, "too many samples for one stored capture", Place{.file = capture.file});
  }
  SQLite::Statement insert(db, R"(
    INSERT INTO captures (lamp_type_id, sample_id, file, sha256, voltage_column, current_column, start_time_s,
                          sample_interval_s, sample_count, voltage_step_v, current_step_a, codec, notes, options,
                          figures, person, time_utc, instrument, program_version, received, voltage_v, current_a,
                          clipped)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT (lamp_type_id, sha256, voltage_column, current_column) DO UPDATE SET
      sample_id = excluded.sample_id, file = excluded.file, start_time_s = excluded.start_time_s,
      sample_interval_s = excluded.sample_interval_s, sample_count = excluded.sample_count,
      voltage_step_v = excluded.voltage_step_v, current_step_a = excluded.current_step_a, codec = excluded.codec,
      notes = excluded.notes, options = excluded.options, figures = excluded.figures, person = excluded.person,
      time_utc = excluded.time_utc, instrument = excluded.instrument, program_version = excluded.program_version,
      received = excluded.received, voltage_v = excluded.voltage_v, current_a = excluded.current_a, clipped = excluded.clipped
    RETURNING id)");
  Bind bind{insert};
  bind(lamp_type)(sample_row(db, lamp_type, sample))(capture.file)(stored.sha256)(
      voltage_column)(current_column)(capture.start_time_s)(capture.sample_interval_s)(
      static_cast<std::int64_t>(stored.figures_only ? stored.figures.samples : capture.samples()))(
      capture.voltage_step_v)(capture.current_step_a)(std::string(blob::codec))(notes_to_json(capture.notes))(
      options)(figures_to_json(stored.figures))(stored.provenance.person)(stored.provenance.time_utc)(
      stored.provenance.instrument)(stored.provenance.program_version)(stored.received);
  bind.blob(voltage).blob(current);
  if (!capture.clipped.empty()) bind.blob(clipped);
  insert.executeStep();
  const std::int64_t id = insert.getColumn(0).getInt64();
  while (insert.executeStep()) {
  }
  return id;
}

std::vector<StoredCapture> captures_of(SQLite::Database& db, std::int64_t lamp_type, bool with_samples) {
  SQLite::Statement select(db, fmt::format(R"(
    SELECT captures.id, samples.label, file, sha256, start_time_s, sample_interval_s, voltage_step_v, current_step_a,
           notes, options, figures, person, time_utc, instrument, program_version, received,
           length(voltage_v) = 0, sample_count, codec{}
    FROM captures JOIN samples ON samples.id = captures.sample_id
    WHERE captures.lamp_type_id = ? ORDER BY captures.id)",
                                           with_samples ? ", voltage_v, current_a, clipped" : ""));
  Bind{select}(lamp_type);
  std::vector<StoredCapture> list;
  while (select.executeStep()) {
    StoredCapture& stored = list.emplace_back();
    Capture& capture = stored.capture;
    std::string notes;
    std::string options;
    std::string figures;
    std::string codec;
    std::int64_t count = 0;
    Row{select}(stored.id)(stored.sample)(capture.file)(stored.sha256)(capture.start_time_s)(capture.sample_interval_s)(
        capture.voltage_step_v)(capture.current_step_a)(notes)(options)(figures)(stored.provenance.person)(
        stored.provenance.time_utc)(stored.provenance.instrument)(stored.provenance.program_version)(stored.received)(
        stored.figures_only)(count)(codec);
    capture.notes = notes_from_json(notes);
    stored.options = options_from_json(options);
    stored.figures = figures_from_json(figures);
    if (!with_samples || stored.figures_only) continue;
    if (codec != blob::codec) throw Error(ErrorCode::library, fmt::format("samples in unknown codec '{}'", codec));
    const auto samples = static_cast<std::size_t>(count);
    capture.voltage_v = blob::unpack(blob_of(select.getColumn("voltage_v")), samples);
    capture.current_a = blob::unpack(blob_of(select.getColumn("current_a")), samples);
    const SQLite::Column clipped = select.getColumn("clipped");
    if (!clipped.isNull()) capture.clipped = blob::unpack_bytes(blob_of(clipped), samples);
  }
  return list;
}

}  // namespace lampload::rows
