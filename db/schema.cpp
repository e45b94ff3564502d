#include "db/schema.h"

#include <SQLiteCpp/Backup.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <sys/file.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <filesystem>
#include <system_error>
#include <thread>
#include <utility>

#include "db/packing.h"

namespace lampload::schema {
namespace {

namespace fs = std::filesystem;

struct Identity {
  int application_id = 0;
  int user_version = 0;
  bool has_tables = false;
};

Error refused(const std::string& path, std::string message, std::string remedy) {
  return {ErrorCode::library, std::move(message), Place{.file = path}, std::move(remedy)};
}

int pragma(SQLite::Database& db, const char* name) { return db.execAndGet(fmt::format("PRAGMA {}", name)).getInt(); }

bool may_write(const fs::path& path) { return ::faccessat(AT_FDCWD, path.c_str(), W_OK, AT_EACCESS) == 0; }

fs::path folder_of(const std::string& path) { return fs::absolute(path).parent_path(); }

bool wal_holds_changes(const std::string& path) {
  std::error_code none;
  const auto size = fs::file_size(path + "-wal", none);
  return !none && size > 0;
}

// An immutable open takes no lock and leaves no file beside the library.
SQLite::Database open_immutable(const std::string& path) {
  std::string uri = "file:";
  for (const char c : fs::absolute(path).string()) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '/' ||
                       c == '.' || c == '-' || c == '_';
    uri += plain ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return {uri + "?immutable=1", SQLite::OPEN_READONLY | SQLite::OPEN_URI};
}

Identity identity(SQLite::Database& db) {
  return {pragma(db, "application_id"), pragma(db, "user_version"),
          db.execAndGet("SELECT count(*) FROM sqlite_schema").getInt64() > 0};
}

/// Held while a library is made or brought up to date, so that others that open it meanwhile find it whole. A lock of
/// its folder: one of the file itself would, when let go, take SQLite's own locks along. Where a file system knows no
/// such locks, nothing is held.
class Opening {
 public:
  Opening(const fs::path& folder, Library::Access access)
      : folder_(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)) {
    using namespace std::chrono_literals;
    const bool writes = access == Library::Access::read_write;
    // A reader that has waited in vain reads what there is.
    const auto patience = writes ? std::chrono::milliseconds(busy_timeout_ms) : 1000ms;
    const auto until = std::chrono::steady_clock::now() + patience;
    while (folder_ >= 0 && ::flock(folder_, (writes ? LOCK_EX : LOCK_SH) | LOCK_NB) != 0) {
      if (errno != EWOULDBLOCK) return;
      if (std::chrono::steady_clock::now() > until) {
        if (!writes) return;
        ::close(std::exchange(folder_, -1));
        throw SQLite::Exception("waited", SQLITE_BUSY);
      }
      std::this_thread::sleep_for(5ms);
    }
  }
  ~Opening() {
    if (folder_ >= 0) ::close(folder_);
  }
  Opening(const Opening&) = delete;
  Opening& operator=(const Opening&) = delete;

 private:
  int folder_;
};

/// Refuses what is not a library this program can use.
void check(const std::string& path, const Identity& found, std::size_t supported) {
  const bool fresh = found.application_id == 0 && found.user_version == 0 && !found.has_tables;
  if (!fresh && found.application_id != application_id) {
    throw refused(path,
                  fmt::format("is a database of another program (application id {:#x}, expected {:#x})",
                              static_cast<unsigned>(found.application_id), static_cast<unsigned>(application_id)),
                  "It was left untouched; name another file with --library");
  }
  if (found.user_version < 0 || found.user_version > static_cast<int>(supported)) {
    throw refused(path,
                  fmt::format("has library schema {}, newer than schema {} that this program knows", found.user_version,
                              supported),
                  "It was left untouched; use the newer lampload that wrote it, or name another file with --library");
  }
}

/// The state on disk, looked at before the file is opened for use, so that nothing is touched when it is refused.
void check_untouched(const std::string& path, std::size_t supported) {
  SQLite::Database db =
      wal_holds_changes(path) ? SQLite::Database(path, SQLite::OPEN_READONLY, busy_timeout_ms) : open_immutable(path);
  check(path, identity(db), supported);
}

std::string backup_name(const std::string& path, int version) {
  const std::string base = fmt::format("{}.schema-{}", path, version);
  std::string name = base + ".backup";
  for (int i = 2; fs::exists(name); ++i) name = fmt::format("{}-{}.backup", base, i);
  return name;
}

void back_up(SQLite::Database& db, const std::string& path, int version) {
  const std::string name = backup_name(path, version);
  const std::string part = name + ".part";
  fs::remove(part);
  SQLite::Statement copy(db, "VACUUM INTO ?");
  copy.bind(1, part);
  copy.exec();
  fs::rename(part, name);
}

void apply(SQLite::Database& db, const Migration& step, int to) {
  SQLite::Transaction transaction(db, SQLite::TransactionBehavior::IMMEDIATE);
  // Another process may have been faster while this one waited for the lock.
  if (pragma(db, "user_version") >= to) return;
  db.exec(std::string(step.sql));
  SQLite::Statement orphans(db, "PRAGMA foreign_key_check");
  if (orphans.executeStep()) {
    throw Error(ErrorCode::library, fmt::format("migration {} leaves rows of {} without what they refer to", step.name,
                                                orphans.getColumn(0).getString()));
  }
  orphans.reset();
  db.exec(fmt::format("PRAGMA application_id = {}", application_id));
  db.exec(fmt::format("PRAGMA user_version = {}", to));
  transaction.commit();
}

/// Gives room back that a step left behind, where it is much. The library is whole without it.
void shrink(SQLite::Database& db) {
  if (4 * pragma(db, "freelist_count") <= pragma(db, "page_count")) return;
  try {
    db.exec("VACUUM");
  } catch (const SQLite::Exception&) {
    // a full disk, or somebody else at it: the room is used by what is stored next
  }
}

/// Brings an open library up to date; `backup_beside` empty: no backup (a copy, or a new file).
void migrate(SQLite::Database& db, const std::string& backup_beside, std::span<const Migration> known) {
  const int from = pragma(db, "user_version");
  if (from >= static_cast<int>(known.size())) return;
  if (from > 0 && !backup_beside.empty()) back_up(db, backup_beside, from);
  // Steps may rebuild tables; references are checked at the end of each step instead.
  db.exec("PRAGMA foreign_keys = OFF");
  packing::add_functions(db);
  for (std::size_t i = static_cast<std::size_t>(from); i < known.size(); ++i) {
    apply(db, known[i], static_cast<int>(i) + 1);
  }
  if (from > 0 && !backup_beside.empty()) shrink(db);
}

SQLite::Database open_to_read(const std::string& path) {
  // A writable connection clears its side files away when it closes; query_only keeps it from changing anything.
  if (may_write(path) && may_write(folder_of(path))) {
    SQLite::Database db(path, SQLite::OPEN_READWRITE, busy_timeout_ms);
    db.exec("PRAGMA query_only = ON");
    return db;
  }
  try {
    SQLite::Database db(path, SQLite::OPEN_READONLY, busy_timeout_ms);
    identity(db);
    return db;
  } catch (const SQLite::Exception&) {
    if (!wal_holds_changes(path)) return open_immutable(path);
    throw refused(path, "has changes waiting in its -wal file that cannot be read from a read-only folder",
                  "Copy the library together with its -wal file to a folder you may write to");
  }
}

/// An older library that must not be changed is read through a temporary copy with the newest schema.
SQLite::Database migrated_copy(SQLite::Database& original, std::span<const Migration> known) {
  SQLite::Database copy("", SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
  SQLite::Backup(copy, original).executeStep();
  migrate(copy, "", known);
  return copy;
}

/// Pages that a command reads more than once are read from the file once: the names of a hundred thousand lamps.
void keep_pages(SQLite::Database& db) { db.exec("PRAGMA cache_size = -16000"); }

SQLite::Database open_existing_to_read(const std::string& path, std::span<const Migration> known) {
  SQLite::Database db = open_to_read(path);
  const Identity found = identity(db);
  check(path, found, known.size());
  if (found.user_version == 0) throw refused(path, "holds no library yet", "Store a lamp or a channel first");
  keep_pages(db);
  db.exec("PRAGMA mmap_size = 268435456");  // a third less time for a look through a hundred thousand lamps
  return found.user_version < static_cast<int>(known.size()) ? migrated_copy(db, known) : std::move(db);
}

SQLite::Database open_to_write(const std::string& path, std::span<const Migration> known) {
  SQLite::Database db(path, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE, busy_timeout_ms);
  check(path, identity(db), known.size());
  keep_pages(db);
  db.exec("PRAGMA journal_mode = WAL");
  migrate(db, path, known);
  db.exec("PRAGMA foreign_keys = ON");
  return db;
}

}  // namespace

SQLite::Database in_memory() {
  SQLite::Database db("", SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
  migrate(db, "", migrations());
  db.exec("PRAGMA foreign_keys = ON");
  return db;
}

Error translated(const std::string& path, const SQLite::Exception& fault) {
  switch (fault.getErrorCode()) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return refused(path, fmt::format("is in use by another process (waited {} s)", busy_timeout_ms / 1000),
                     "Try again when the other process has finished");
    case SQLITE_NOTADB:
      return refused(path, "is not a library: it is no SQLite database", "Name another file");
    case SQLITE_CORRUPT:
      return refused(path, fmt::format("is damaged ({})", fault.what()),
                     "Restore it from a backup, or move it away and import the captures again");
    case SQLITE_READONLY:
    case SQLITE_PERM:
      return refused(path, "could not be written: it is read-only", "Check the permissions of the file and its folder");
    case SQLITE_CANTOPEN:
      return refused(path, "could not be opened", "Check the name and the permissions of the file and its folder");
    case SQLITE_FULL:
      return refused(path, "could not be written: the disk is full", "Make room; nothing was changed");
    default:
      return refused(path, fmt::format("could not be used: {}", fault.what()), "");
  }
}

SQLite::Database open(const std::string& path, Library::Access access, std::span<const Migration> known) {
  return guarded(path, [&] {
    try {
      if (access == Library::Access::read_write) fs::create_directories(folder_of(path));
      const Opening alone(folder_of(path), access);
      const bool there = fs::exists(path);
      if (there && !fs::is_regular_file(path)) {
        throw refused(path, "is not a file", "Name a file with --library");
      }
      if (there) check_untouched(path, known.size());
      if (access == Library::Access::read_write) return open_to_write(path, known);
      if (!there) {
        throw refused(path, "there is no library here",
                      "Store a lamp or a channel first, or name another file with "
                      "--library");
      }
      return open_existing_to_read(path, known);
    } catch (const fs::filesystem_error& fault) {
      throw refused(path, fmt::format("could not be opened: {}", fault.code().message()),
                    "Check the name and the permissions of the file and its folder");
    }
  });
}

}  // namespace lampload::schema
