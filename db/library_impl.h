#pragma once
// What the parts of the library share: the open file, and storing one lamp inside a transaction.

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "db/library.h"

namespace lampload {

struct Library::Impl {
  std::string path;
  SQLite::Database db;
};

namespace rows {

/// Library::store() without its transaction and the channel.
std::int64_t store_lamp(SQLite::Database& db, const std::string& lamp, const Nominal& nominal,
                        const std::vector<StoredCapture>& captures, const std::optional<StoredFit>& fit);

/// Library::lamp() without a transaction of its own; `path` for the place of an error.
LampRecord read_lamp(SQLite::Database& db, const std::string& path, const std::string& name, bool with_samples);

/// Library::store_channel() without a transaction.
void store_channel(SQLite::Database& db, const Channel& channel);

/// Works out again what the list shows of a lamp type.
void refresh_lamp(SQLite::Database& db, std::int64_t lamp_type);

}  // namespace rows
}  // namespace lampload
