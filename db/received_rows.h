#pragma once
// Rows of the tables received_lamps and signer_keys, and what they say of a lamp.

#include <SQLiteCpp/SQLiteCpp.h>

#include <optional>
#include <string>
#include <vector>

#include "db/lamp_file.h"
#include "db/library.h"

namespace lampload::rows {

/// For a SELECT from lamp_types: its Trust as a number. Nothing else is looked up for lamps that were made here. Where
/// the record of a received lamp is lost (damage, salvage), nobody is known to have signed it.
inline constexpr const char* trust_column = R"(
  CASE WHEN NOT lamp_types.received THEN 0 ELSE coalesce(
    (SELECT CASE WHEN signer = '' THEN 1 WHEN accepted IS NULL THEN 2 WHEN NOT accepted THEN 4
                 WHEN fit_id IS (SELECT max(id) FROM fits WHERE lamp_type_id = lamp_types.id AND type_fit_id IS NULL)
                 THEN 3 ELSE 5 END
     FROM received_lamps LEFT JOIN signer_keys ON public_key = signer
     WHERE received_lamps.lamp_type_id = lamp_types.id), 1) END)";

/// Fills in trust, origin and what the lamp took the place of.
void read_origin(SQLite::Database& db, LampRecord& lamp);

void store_received(SQLite::Database& db, std::int64_t lamp_type, const SharedLamp& lamp, const Provenance& provenance);

/// The record as it came, where the lamp has nothing beside it or that does not matter; else empty.
std::string received_record(SQLite::Database& db, std::int64_t lamp_type, bool even_if_changed);

/// Received lamps with this content, of those that no other took the place of; the newest first.
struct StoredContent {
  std::string name;
  std::string digest;
  std::string signer;
  bool revoked = false;        ///< the signer was
  bool lacks_samples = false;  ///< of a capture at least
};
std::vector<StoredContent> received_contents(SQLite::Database& db, const std::string& content_digest);

std::vector<SignerKey> signer_keys(SQLite::Database& db);
void store_signer_key(SQLite::Database& db, const SignerKey& key);

}  // namespace lampload::rows
