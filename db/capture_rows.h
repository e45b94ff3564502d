#pragma once
// Rows of the tables samples and captures.

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <vector>

#include "db/library.h"

namespace lampload::rows {

/// Adds the capture and returns its row. The same recording (digest of the file and columns) of the same lamp type is
/// not stored twice: read in the same way it stays as it is, read with other options the new reading takes its place.
std::int64_t store_capture(SQLite::Database& db, std::int64_t lamp_type, const StoredCapture& stored);

/// In the order they were first stored; sample arrays are left empty unless asked for.
std::vector<StoredCapture> captures_of(SQLite::Database& db, std::int64_t lamp_type, bool with_samples);

}  // namespace lampload::rows
