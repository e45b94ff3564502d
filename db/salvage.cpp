// What can be read of a damaged library, into a new one.

#include <fmt/format.h>

#include <filesystem>

#include "core/error.h"
#include "db/kept_capture.h"
#include "db/packing.h"
#include "db/schema.h"
#include "db/statement.h"
#include "db/upkeep.h"

namespace lampload {
namespace {

namespace fs = std::filesystem;
constexpr int first_with_samples = 4;
constexpr int first_with_received = 7;
constexpr int first_packed = 9;

Error not_saved(const std::string& path, std::string message, std::string remedy) {
  return {ErrorCode::library, std::move(message), Place{.file = path}, std::move(remedy)};
}

/// Every table's rows into the empty tables of a new library.
class Salvaging {
 public:
  Salvaging(SQLite::Database& from, SQLite::Database& to, Salvage& salvage) : from_(from), to_(to), salvage_(salvage) {}

  void run(int version) {
    for (const std::string& table : texts("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE "
                                          "'sqlite_%' ORDER BY rowid")) {
      copy(table);
    }
    drop_captures_that_do_not_unpack();
    if (version >= first_packed) drop_what_does_not_unpack();
    drop_orphans();
    tell_lost_records(version);
    to_.exec(std::string("UPDATE lamp_types SET captures = (SELECT count(*) FROM captures WHERE lamp_type_id = "
                         "lamp_types.id), fits = (SELECT count(*) FROM fits WHERE lamp_type_id = lamp_types.id") +
             (version >= first_with_samples ? " AND type_fit_id IS NULL" : "") + ")");
  }

 private:
  std::vector<std::string> texts(const std::string& sql) {
    SQLite::Statement select(to_, sql);
    std::vector<std::string> all;
    while (select.executeStep()) all.push_back(select.getColumn(0).getString());
    return all;
  }

  /// From both ends, up to the damage.
  void copy(const std::string& table) {
    std::string marks = "?";
    for (std::size_t c = texts(fmt::format("SELECT name FROM pragma_table_info('{}')", table)).size(); c > 1; --c) {
      marks += ", ?";
    }
    std::string key;
    for (const std::string& column :
         texts(fmt::format("SELECT name FROM pragma_table_info('{}') WHERE pk > 0 ORDER BY pk", table))) {
      key += (key.empty() ? " ORDER BY " : ", ") + column + " DESC";
    }
    SQLite::Statement insert(to_, fmt::format("INSERT OR IGNORE INTO {} VALUES ({})", table, marks));
    for (const std::string& order : {std::string(), key}) {
      try {
        SQLite::Statement select(from_, fmt::format("SELECT * FROM {}{}", table, order));
        while (select.executeStep()) take(select, insert, table);
        return;  // read to its end
      } catch (const SQLite::Exception& fault) {
        if (order.empty())
          salvage_.damaged.push_back(fmt::format("{} could not be read to its end: {}", table, fault.what()));
      }
    }
  }

  void take(SQLite::Statement& select, SQLite::Statement& insert, const std::string& table) {
    for (int c = 0; c < select.getColumnCount(); ++c) bind_as_it_is(insert, c + 1, select.getColumn(c));
    try {
      salvage_.rows += static_cast<std::size_t>(insert.exec());
    } catch (const SQLite::Exception& fault) {
      salvage_.damaged.push_back(fmt::format("a row of {} was left out: {}", table, fault.what()));
    }
    insert.reset();
  }

  void drop_captures_that_do_not_unpack() {
    for (const std::string& id : texts("SELECT id FROM captures")) {
      try {
        rows::kept_capture(to_, std::stoll(id));
      } catch (const std::exception& fault) {
        salvage_.damaged.push_back(fmt::format("capture {} was left out: {}", id, fault.what()));
        to_.exec("DELETE FROM captures WHERE id = " + id);
      }
    }
  }

  /// A fit without its report or its covariance still has its circuit; figures for screening are found by the next fit.
  void drop_what_does_not_unpack() {
    each_blob("fits", "id", "report", "SET report = x''", packing::report_of);
    each_blob("fits", "id", "covariance", "SET covariance = x''", packing::covariance_of);
    each_blob("screening", "lamp_type_id", "figures", "", packing::screening_of);
  }

  /// `set` empty: the row goes.
  template <class Unpack>
  void each_blob(const std::string& table, const std::string& key, const std::string& column, const std::string& set,
                 Unpack unpack) {
    std::vector<std::int64_t> damaged;
    SQLite::Statement select(to_, fmt::format("SELECT {}, {} FROM {} ORDER BY 1", key, column, table));
    while (select.executeStep()) {
      try {
        unpack(select.getColumn(1).getString());
      } catch (const Error& fault) {
        damaged.push_back(select.getColumn(0).getInt64());
        salvage_.damaged.push_back(
            fmt::format("the {} of row {} of {} was left out: {}", column, damaged.back(), table, fault.message()));
      }
    }
    for (const std::int64_t id : damaged) {
      to_.exec(set.empty() ? fmt::format("DELETE FROM {} WHERE {} = {}", table, key, id)
                           : fmt::format("UPDATE {} {} WHERE {} = {}", table, set, key, id));
    }
  }

  /// What refers to rows that are lost goes with them, and what refers to those.
  void drop_orphans() {
    for (int gone = 1; gone > 0;) {
      gone = 0;
      for (const std::string& table : texts("SELECT DISTINCT \"table\" FROM pragma_foreign_key_check")) {
        SQLite::Statement keys(
            to_, fmt::format("SELECT \"table\", \"from\", on_delete FROM pragma_foreign_key_list('{}')", table));
        std::vector<std::string> clear;
        while (keys.executeStep()) {
          const std::string column = keys.getColumn(1).getString();
          const std::string what = keys.getColumn(2).getString() == "SET NULL"
                                       ? fmt::format("UPDATE {} SET {} = NULL", table, column)
                                       : "DELETE FROM " + table;
          clear.push_back(fmt::format("{0} WHERE {1} IS NOT NULL AND {1} NOT IN (SELECT id FROM {2})", what, column,
                                      keys.getColumn(0).getString()));
        }
        for (const std::string& sql : clear) gone += to_.exec(sql);
      }
    }
  }

  /// Who signed them, and whether that key was revoked, is known no more.
  void tell_lost_records(int version) {
    if (version < first_with_received) return;
    for (const std::string& name :
         texts("SELECT name FROM lamp_types WHERE received AND id NOT IN (SELECT lamp_type_id FROM received_lamps) "
               "ORDER BY name")) {
      salvage_.damaged.push_back(fmt::format(
          "where '{}' came from is lost with its record: it is told as not signed, whoever signed it", name));
    }
  }

  SQLite::Database& from_;
  SQLite::Database& to_;
  Salvage& salvage_;
};

}  // namespace

Salvage salvage_library(const std::string& path, const std::string& target) {
  if (fs::exists(target))
    throw not_saved(target, "is there already, and was left alone", "Name a file that is not there yet");
  return schema::guarded(path, [&] {
    SQLite::Database from(path, SQLite::OPEN_READONLY, schema::busy_timeout_ms);
    const int version = from.execAndGet("PRAGMA user_version").getInt();
    const auto known = schema::migrations();
    if (from.execAndGet("PRAGMA application_id").getInt() != schema::application_id || version < 1 ||
        version > static_cast<int>(known.size())) {
      throw not_saved(path, "does not say any more that it is a library this program knows", "Take a backup of it");
    }
    Salvage salvage;
    {
      SQLite::Database to =
          schema::open(target, Library::Access::read_write, known.first(static_cast<std::size_t>(version)));
      to.exec("PRAGMA foreign_keys = OFF");
      SQLite::Transaction transaction(to);
      Salvaging(from, to, salvage).run(version);
      transaction.commit();
    }
    if (salvage.rows == 0) {
      fs::remove(target);
      throw not_saved(path, "holds nothing that can be read", "Take a backup of it");
    }
    Library::open(target, Library::Access::read_write);  // up to date
    return salvage;
  });
}

}  // namespace lampload
