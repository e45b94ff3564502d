#include "db/upkeep.h"

#include <SQLiteCpp/Backup.h>
#include <fmt/format.h>

#include <cmath>
#include <filesystem>

#include "core/error.h"
#include "core/lamp/lamp.h"
#include "db/channel_file.h"
#include "db/figures_json.h"
#include "db/lamp_file.h"
#include "db/received_rows.h"
#include "db/schema.h"
#include "db/statement.h"
#include "db/waveform_blob.h"

namespace lampload {
namespace {

namespace fs = std::filesystem;
constexpr std::size_t most_faults = 100;

struct KeptCapture {
  Capture capture;  ///< empty where only figures are kept
  Figures figures;
  std::string sha256, program_version;
};

/// All of a row that can be wrong by itself. Throws Error{library}.
KeptCapture read_capture(SQLite::Database& db, std::int64_t id) {
  SQLite::Statement select(db, R"(
    SELECT start_time_s, sample_interval_s, voltage_step_v, current_step_a, sample_count, notes, options, figures, sha256,
           program_version, voltage_v, current_a, clipped
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
      count)(notes)(options)(figures)(kept.sha256)(kept.program_version);
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

class Check {
 public:
  explicit Check(SQLite::Database& db) : db_(db) {}

  LibraryCheck run() {
    file();
    if (found_.faults.empty()) {
      each("SELECT id, name FROM lamp_types ORDER BY id", [this](auto& row) { lamp(row); });
      each("SELECT name, description FROM channels ORDER BY id", [this](auto& row) { channel(row); });
      each("SELECT id, family, load_law FROM fits ORDER BY id", [this](auto& row) { fit(row); });
      each("SELECT lamp_type_id, name, digest FROM received_lamps ORDER BY lamp_type_id",
           [this](auto& row) { received(row); });
    }
    return std::move(found_);
  }

 private:
  void fault(std::string sentence) {
    if (found_.faults.size() < most_faults) found_.faults.push_back(std::move(sentence));
  }

  template <class Look>
  void each(const char* sql, Look look) {
    SQLite::Statement select(db_, sql);
    while (select.executeStep()) look(select);
  }

  /// Runs `look`; what it throws is a fault of `what`.
  template <class Look>
  void of(const std::string& what, Look look) {
    try {
      look();
    } catch (const std::exception& error) {
      fault(fmt::format("{}: {}", what, error.what()));
    }
  }

  void file() {
    each("PRAGMA integrity_check(20)", [this](auto& row) {
      const std::string says = row.getColumn(0).getString();
      if (says != "ok") fault("SQLite's own check: " + says);
    });
    if (!found_.faults.empty()) return;
    each("PRAGMA foreign_key_check", [this](auto& row) {
      fault(fmt::format("row {} of {} refers to a row of {} that is not there", row.getColumn(1).getString(),
                        row.getColumn(0).getString(), row.getColumn(2).getString()));
    });
  }

  void lamp(SQLite::Statement& row) {
    const std::int64_t id = row.getColumn(0).getInt64();
    const std::string name = row.getColumn(1).getString();
    ++found_.lamps;
    of("lamp '" + name + "'", [&] {
      Nominal nominal;
      SQLite::Statement counts(db_, R"(
        SELECT captures, fits, (SELECT count(*) FROM captures WHERE lamp_type_id = lamp_types.id),
               (SELECT count(*) FROM fits WHERE lamp_type_id = lamp_types.id AND type_fit_id IS NULL),
               nominal_voltage_v, nominal_frequency_hz, rated_power_w
        FROM lamp_types WHERE id = ?)");
      Bind{counts}(id);
      counts.executeStep();
      int told[4];
      Row{counts}(told[0])(told[1])(told[2])(told[3])(nominal.voltage_v)(nominal.frequency_hz)(nominal.rated_power_w);
      if (told[0] != told[2] || told[1] != told[3]) {
        fault(fmt::format("lamp '{}' is listed with {} captures and {} fits, and has {} and {}", name, told[0], told[1],
                          told[2], told[3]));
      }
      SQLite::Statement captures(db_, "SELECT id FROM captures WHERE lamp_type_id = ? ORDER BY id");
      Bind{captures}(id);
      while (captures.executeStep()) capture(name, captures.getColumn(0).getInt64(), nominal);
    });
  }

  void capture(const std::string& lamp, std::int64_t id, const Nominal& nominal) {
    ++found_.captures;
    of(fmt::format("capture {} of lamp '{}'", id, lamp), [&] {
      const KeptCapture stored = read_capture(db_, id);
      if (stored.sha256.find_first_not_of("0123456789abcdef") != std::string::npos) {
        fault(fmt::format("capture {} of lamp '{}': its digest is none", id, lamp));
      }
      if (stored.capture.voltage_v.empty()) return;
      const Figures again = measure(stored.capture, nominal);
      const auto differs = [](double a, double b) { return std::abs(a - b) > 1e-6 * (std::abs(a) + 1e-9); };
      if (differs(stored.figures.voltage_rms_v, again.voltage_rms_v) ||
          differs(stored.figures.current_rms_a, again.current_rms_a)) {
        fault(
            fmt::format("capture {} of lamp '{}': stored with {:.6g} V and {:.6g} A rms, its samples give {:.6g} V and "
                        "{:.6g} A (lampload {} measured it)",
                        id, lamp, stored.figures.voltage_rms_v, stored.figures.current_rms_a, again.voltage_rms_v,
                        again.current_rms_a, stored.program_version));
      }
    });
  }

  void fit(SQLite::Statement& row) {
    ++found_.fits;
    const std::int64_t id = row.getColumn(0).getInt64();
    const std::string family = row.getColumn(1).getString();
    if (family.empty()) return;
    of(fmt::format("fit {}", id), [&] {
      const FamilyInfo& info = find_family(family, row.getColumn(2).getString());
      SQLite::Statement count(db_, "SELECT count(*) FROM fit_estimates WHERE fit_id = ? AND kind = 'parameter'");
      Bind{count}(id);
      count.executeStep();
      // earlier versions knew no parts at the end of a table
      const auto stored = static_cast<std::size_t>(count.getColumn(0).getInt64());
      const bool whole = stored == info.parameters.size() ||
                         (stored < info.parameters.size() && !info.parameters[stored].part.empty());
      if (!whole) {
        fault(fmt::format("fit {} has {} parameters; family {} has {}", id, stored, family, info.parameters.size()));
      }
    });
  }

  /// The record a lamp came with still says what its digest says.
  void received(SQLite::Statement& row) {
    const std::string name = row.getColumn(1).getString();
    of("the record of '" + name + "' as it was received", [&] {
      const SharedLamp lamp =
          parse_lamp_record(rows::received_record(db_, row.getColumn(0).getInt64(), true), "received");
      if (lamp.digest != row.getColumn(2).getString()) {
        fault(fmt::format("the record of '{}' is not the one whose digest is stored", name));
      }
    });
  }

  void channel(SQLite::Statement& row) {
    ++found_.channels;
    const std::string name = row.getColumn(0).getString();
    of("channel '" + name + "'", [&] { parse_channel(row.getColumn(1).getString(), name); });
  }

  SQLite::Database& db_;
  LibraryCheck found_;
};

Error refused(const std::string& path, std::string message, std::string remedy) {
  return {ErrorCode::library, std::move(message), Place{.file = path}, std::move(remedy)};
}

void copy_whole(SQLite::Database& from, SQLite::Database& to) { SQLite::Backup(to, from).executeStep(); }

bool is_whole(SQLite::Database& db) { return db.execAndGet("PRAGMA quick_check(1)").getString() == "ok"; }

/// Every table's rows into the empty tables of a new library.
class Salvaging {
 public:
  Salvaging(SQLite::Database& from, SQLite::Database& to, Salvage& salvage) : from_(from), to_(to), salvage_(salvage) {}

  void run(bool fits_of_samples) {
    for (const std::string& table : texts("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE "
                                          "'sqlite_%' ORDER BY rowid")) {
      copy(table);
    }
    drop_captures_that_do_not_unpack();
    drop_orphans();
    to_.exec(std::string("UPDATE lamp_types SET captures = (SELECT count(*) FROM captures WHERE lamp_type_id = "
                         "lamp_types.id), fits = (SELECT count(*) FROM fits WHERE lamp_type_id = lamp_types.id") +
             (fits_of_samples ? " AND type_fit_id IS NULL" : "") + ")");
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
    for (int c = 0; c < select.getColumnCount(); ++c) {
      const SQLite::Column value = select.getColumn(c);
      if (value.isInteger()) {
        insert.bind(c + 1, value.getInt64());
      } else if (value.isFloat()) {
        insert.bind(c + 1, value.getDouble());
      } else if (value.isText()) {
        insert.bind(c + 1, value.getString());
      } else if (value.isBlob()) {
        insert.bind(c + 1, value.getBlob(), value.getBytes());
      } else {
        insert.bind(c + 1);
      }
    }
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
        read_capture(to_, std::stoll(id));
      } catch (const std::exception& fault) {
        salvage_.damaged.push_back(fmt::format("capture {} was left out: {}", id, fault.what()));
        to_.exec("DELETE FROM captures WHERE id = " + id);
      }
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

  SQLite::Database& from_;
  SQLite::Database& to_;
  Salvage& salvage_;
};

std::string free_name(const std::string& base, const std::string& ending) {
  std::string name = base + ending;
  for (int i = 2; fs::exists(name); ++i) name = fmt::format("{}-{}{}", base, i, ending);
  return name;
}

}  // namespace

LibraryCheck check_library(SQLite::Database& db) { return Check(db).run(); }

LibraryCheck check_library(const std::string& path) {
  try {
    SQLite::Database db = schema::open(path, Library::Access::read_only);
    return schema::guarded(path, [&] { return Check(db).run(); });
  } catch (const Error& error) {
    if (error.code() != ErrorCode::library || error.message().find("is damaged") == std::string::npos) throw;
    return {.faults = {error.message()}};
  }
}

void back_up_library(const std::string& path, const std::string& copy) {
  if (fs::exists(copy))
    throw refused(copy, "is there already, and was left alone", "Name a file that is not there yet");
  SQLite::Database db = schema::open(path, Library::Access::read_only);
  const std::string part = copy + ".part";
  schema::guarded(copy, [&] {
    fs::remove(part);
    try {
      {
        SQLite::Database to(part, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE);
        copy_whole(db, to);
        to.exec("PRAGMA journal_mode = DELETE");
        if (!is_whole(to))
          throw refused(path, "is damaged, and was not copied", "'lampload library salvage' saves what can be read");
      }
      fs::rename(part, copy);
    } catch (const fs::filesystem_error& fault) {
      fs::remove(part);
      throw refused(copy, "could not be written: " + fault.code().message(),
                    "Name a file in a folder you may write to");
    } catch (...) {
      std::error_code ignored;
      fs::remove(part, ignored);
      throw;
    }
  });
}

std::string restore_library(const std::string& path, const std::string& copy) {
  SQLite::Database from = schema::open(copy, Library::Access::read_only);
  schema::guarded(copy, [&] {
    if (!is_whole(from)) throw refused(copy, "is damaged, and was not put back", "Take another backup");
  });
  const std::string kept = fs::exists(path) ? free_name(path + ".before-restore", ".backup") : "";
  if (!kept.empty()) {
    try {
      back_up_library(path, kept);
    } catch (const Error&) {
      // what SQLite cannot read any more is kept as it lies there, and makes room
      for (const char* ending : {"-wal", "-shm", ""}) {
        if (fs::exists(path + ending)) fs::rename(path + ending, kept + ending);
      }
    }
  }
  schema::guarded(path, [&] {
    fs::create_directories(fs::absolute(path).parent_path());
    SQLite::Database to(path, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE, schema::busy_timeout_ms);
    copy_whole(from, to);  // one transaction of SQLite's: broken off, the library before it is there
    to.exec("PRAGMA journal_mode = WAL");
  });
  return kept;
}

Salvage salvage_library(const std::string& path, const std::string& target) {
  if (fs::exists(target))
    throw refused(target, "is there already, and was left alone", "Name a file that is not there yet");
  return schema::guarded(path, [&] {
    SQLite::Database from(path, SQLite::OPEN_READONLY, schema::busy_timeout_ms);
    const int version = from.execAndGet("PRAGMA user_version").getInt();
    const auto known = schema::migrations();
    if (from.execAndGet("PRAGMA application_id").getInt() != schema::application_id || version < 1 ||
        version > static_cast<int>(known.size())) {
      throw refused(path, "does not say any more that it is a library this program knows", "Take a backup of it");
    }
    Salvage salvage;
    {
      SQLite::Database to =
          schema::open(target, Library::Access::read_write, known.first(static_cast<std::size_t>(version)));
      to.exec("PRAGMA foreign_keys = OFF");
      SQLite::Transaction transaction(to);
      constexpr int first_with_samples = 4;
      Salvaging(from, to, salvage).run(version >= first_with_samples);
      transaction.commit();
    }
    if (salvage.rows == 0) {
      fs::remove(target);
      throw refused(path, "holds nothing that can be read", "Take a backup of it");
    }
    Library::open(target, Library::Access::read_write);  // up to date
    return salvage;
  });
}

}  // namespace lampload
