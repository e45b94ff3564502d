#include "db/received_rows.h"

#include <fmt/format.h>

#include "core/error.h"
#include "db/statement.h"
#include "db/waveform_blob.h"

namespace lampload {

const char* trust_name(Trust trust) {
  switch (trust) {
    case Trust::own:
      return "own";
    case Trust::unsigned_record:
      return "unsigned";
    case Trust::unknown_signer:
      return "unknown_signer";
    case Trust::accepted_signer:
      return "accepted_signer";
    case Trust::revoked_signer:
      return "revoked_signer";
    case Trust::accepted_captures:
      return "accepted_captures";
  }
  return "unknown_signer";
}

namespace rows {
namespace {

std::string unpacked(const std::string& frame, std::int64_t bytes) {
  const auto text = blob::unpack_bytes(frame, static_cast<std::size_t>(bytes));
  return {text.begin(), text.end()};
}

}  // namespace

void read_origin(SQLite::Database& db, LampRecord& lamp) {
  SQLite::Statement select(db, fmt::format(R"(
    SELECT {}, received_lamps.lamp_type_id IS NOT NULL, received_lamps.name, digest, content_digest, signer,
           signer_keys.name, reason, licence, contributor, file, person, received_lamps.time_utc, program_version,
           received_lamps.fit_id IS NOT
             (SELECT max(id) FROM fits WHERE lamp_type_id = lamp_types.id AND type_fit_id IS NULL),
           (SELECT name FROM lamp_types successor WHERE successor.id = lamp_types.superseded_by)
    FROM lamp_types LEFT JOIN received_lamps ON received_lamps.lamp_type_id = lamp_types.id
      LEFT JOIN signer_keys ON public_key = signer WHERE lamp_types.id = ?)",
                                           trust_column));
  Bind{select}(lamp.id);
  select.executeStep();
  int trust = 0;
  bool received = false;
  Origin origin;
  Row{select}(trust)(received)(origin.name)(origin.digest)(origin.content_digest)(origin.signer)(origin.signer_name)(
      origin.revoked_why)(origin.licence)(origin.contributor)(origin.file)(origin.person)(origin.time_utc)(
      origin.program_version)(origin.fitted_here)(lamp.superseded_by);
  lamp.trust = static_cast<Trust>(trust);
  if (received) {
    origin.trust = lamp.trust;
    lamp.origin = origin;
  }
  SQLite::Statement before(db, "SELECT name, superseded_utc FROM lamp_types WHERE superseded_by = ? ORDER BY id");
  Bind{before}(lamp.id);
  while (before.executeStep()) {
    SupersededLamp& one = lamp.earlier.emplace_back();
    Row{before}(one.name)(one.time_utc);
  }
}

void store_received(SQLite::Database& db, std::int64_t lamp_type, const SharedLamp& lamp,
                    const Provenance& provenance) {
  const std::string frame =
      blob::pack_bytes({reinterpret_cast<const std::uint8_t*>(lamp.text.data()), lamp.text.size()});
  SQLite::Statement insert(db, R"(
    INSERT INTO received_lamps (lamp_type_id, fit_id, name, digest, content_digest, signer, licence, contributor, file,
                                person, time_utc, program_version, record_bytes, record)
    VALUES (?1, (SELECT max(id) FROM fits WHERE lamp_type_id = ?1 AND type_fit_id IS NULL), ?, ?, ?, ?, ?, ?, ?, ?, ?,
            ?, ?, ?))");
  Bind{insert}(lamp_type)(lamp.lamp.name)(lamp.digest)(lamp.content_digest)(lamp.signer)(lamp.licence)(
      lamp.contributor)(lamp.file)(provenance.person)(provenance.time_utc)(provenance.program_version)(
      static_cast<std::int64_t>(lamp.text.size()))
      .blob(frame);
  insert.exec();
}

std::string received_record(SQLite::Database& db, std::int64_t lamp_type, bool even_if_changed) {
  SQLite::Statement select(db, R"(
    SELECT record_bytes, record FROM received_lamps WHERE lamp_type_id = ?1 AND (?2 OR (
      NOT EXISTS (SELECT 1 FROM captures WHERE lamp_type_id = ?1 AND NOT received)
      AND fit_id IS (SELECT max(id) FROM fits WHERE lamp_type_id = ?1 AND type_fit_id IS NULL))))");
  Bind{select}(lamp_type)(even_if_changed);
  if (!select.executeStep()) return {};
  std::int64_t bytes = 0;
  std::string frame;
  Row{select}(bytes)(frame);
  return unpacked(frame, bytes);
}

std::vector<StoredContent> received_contents(SQLite::Database& db, const std::string& content_digest) {
  SQLite::Statement select(db, R"(
    SELECT lamp_types.name, digest, signer, accepted IS NOT NULL AND NOT accepted,
           EXISTS (SELECT 1 FROM captures WHERE captures.lamp_type_id = lamp_types.id AND length(voltage_v) = 0)
    FROM received_lamps JOIN lamp_types ON lamp_types.id = lamp_type_id LEFT JOIN signer_keys ON public_key = signer
    WHERE content_digest = ? AND superseded_by IS NULL ORDER BY lamp_types.id DESC)");
  Bind{select}(content_digest);
  std::vector<StoredContent> found;
  while (select.executeStep()) {
    StoredContent& one = found.emplace_back();
    Row{select}(one.name)(one.digest)(one.signer)(one.revoked)(one.lacks_samples);
  }
  return found;
}

std::vector<SignerKey> signer_keys(SQLite::Database& db) {
  SQLite::Statement select(db, "SELECT public_key, name, accepted, reason, changed_utc FROM signer_keys ORDER BY name");
  std::vector<SignerKey> keys;
  while (select.executeStep()) {
    SignerKey& key = keys.emplace_back();
    Row{select}(key.public_key)(key.name)(key.accepted)(key.reason)(key.time_utc);
  }
  return keys;
}

void store_signer_key(SQLite::Database& db, const SignerKey& key) {
  if (!is_hex(key.public_key, public_key_digits)) {
    throw Error(ErrorCode::input_refused, "a public key of 64 lower-case hexadecimal digits was expected");
  }
  for (const SignerKey& known : signer_keys(db)) {
    if (known.name != key.name || known.public_key == key.public_key) continue;
    throw Error(ErrorCode::input_refused,
                fmt::format("'{}' is the name of another key, {}...", key.name, in_short(known.public_key)), {},
                "Give this one another name");
  }
  SQLite::Statement upsert(db, R"(
    INSERT INTO signer_keys (public_key, name, accepted, reason, changed_utc)
    VALUES (?, ?, ?, ?, strftime('%Y-%m-%dT%H:%M:%SZ', 'now'))
    ON CONFLICT (public_key) DO UPDATE SET name = excluded.name, accepted = excluded.accepted,
      reason = excluded.reason, changed_utc = excluded.changed_utc)");
  Bind{upsert}(key.public_key)(key.name)(key.accepted)(key.reason);
  upsert.exec();
}

}  // namespace rows
}  // namespace lampload
