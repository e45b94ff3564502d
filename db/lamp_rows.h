#pragma once
// All rows of a lamp type, table by table, whatever stands in their columns: to put a lamp of one library into another
// with everything it has.

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

namespace lampload::rows {

/// From one library to another; both have the newest schema.
class LampCopier {
 public:
  LampCopier(SQLite::Database& from, SQLite::Database& to);
  ~LampCopier();
  LampCopier(const LampCopier&) = delete;
  LampCopier& operator=(const LampCopier&) = delete;

  /// The lamp type gets the new name and no successor; its rows get new ids, and what refers to them follows. Returns
  /// its new row.
  std::int64_t copy(std::int64_t lamp_type, const std::string& name);

 private:
  struct Prepared;
  SQLite::Database& to_;
  std::vector<std::unique_ptr<Prepared>> prepared_;
};

/// SHA-256 over all of it but its name, its rows' ids, and when it was changed or replaced.
std::string digest_of_rows(SQLite::Database& db, std::int64_t lamp_type);

}  // namespace lampload::rows
