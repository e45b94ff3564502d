#pragma once
// Opening the library file: what it is, which schema it has, and the steps that bring an older one up to date.

#include <SQLiteCpp/SQLiteCpp.h>

#include <span>
#include <string>
#include <string_view>

#include "core/error.h"
#include "db/library.h"

namespace lampload::schema {

/// "Lamp" in ASCII: PRAGMA application_id of every library.
inline constexpr int application_id = 0x4C616D70;
/// How long a statement waits for another process before it gives up.
inline constexpr int busy_timeout_ms = 10'000;

/// One step of the schema; the step at index i leads from user_version i to i + 1.
struct Migration {
  std::string_view name;
  std::string_view sql;
};

/// The numbered files of db/migrations, in order.
std::span<const Migration> migrations();

/// Opens as Library::open() promises. `known` is migrations() but in tests.
SQLite::Database open(const std::string& path, Library::Access access, std::span<const Migration> known = migrations());

/// An empty library of the newest schema that is kept nowhere.
SQLite::Database in_memory();

/// What SQLite said, as the program's own error.
Error translated(const std::string& path, const SQLite::Exception& fault);

/// Runs `work`; errors of SQLite, and errors of the room that do not know the file yet, leave it with the path.
template <class Work>
auto guarded(const std::string& path, Work&& work) {
  try {
    return work();
  } catch (const SQLite::Exception& fault) {
    throw translated(path, fault);
  } catch (const Error& fault) {
    if (fault.code() != ErrorCode::library || !fault.place().file.empty()) throw;
    Place place = fault.place();
    place.file = path;
    throw Error(fault.code(), fault.message(), std::move(place), fault.remedy());
  }
}

}  // namespace lampload::schema
