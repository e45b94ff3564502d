#include "db/upkeep.h"

#include <SQLiteCpp/Backup.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "core/error.h"
#include "core/lamp/lamp.h"
#include "db/channel_file.h"
#include "db/fit_rows.h"
#include "db/kept_capture.h"
#include "db/lamp_file.h"
#include "db/lamp_file_checks.h"
#include "db/packing.h"
#include "db/received_rows.h"
#include "db/schema.h"
#include "db/statement.h"

namespace lampload {
namespace {

namespace fs = std::filesystem;
constexpr std::size_t most_faults = 100;

class Check {
 public:
  explicit Check(SQLite::Database& db) : db_(db) {}

  LibraryCheck run() {
    file();
    if (found_.faults.empty()) {
      each("SELECT id, name FROM lamp_types ORDER BY id", [this](auto& row) { lamp(row); });
      each("SELECT name, description FROM channels ORDER BY id", [this](auto& row) { channel(row); });
      each("SELECT id, family, load_law, report, covariance, estimates FROM fits ORDER BY id",
           [this](auto& row) { fit(row); });
      each("SELECT name, figures FROM screening JOIN lamp_types ON lamp_types.id = lamp_type_id ORDER BY lamp_type_id",
           [this](auto& row) { screening(row); });
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
      const rows::KeptCapture stored = rows::kept_capture(db_, id);
      if (stored.sha256.find_first_not_of("0123456789abcdef") != std::string::npos) {
        fault(fmt::format("capture {} of lamp '{}': its digest is none", id, lamp));
      }
      if (stored.capture.voltage_v.empty()) return;
      const Figures again = measure(stored.capture, nominal);
      // A received record is kept as its digest has it: it was taken in with such differences.
      const double share = stored.received ? 1.01 * measured_again_share : 1e-6;
      const double floor = stored.received ? 1e-6 : 1e-15;
      const auto differs = [&](double a, double b) {
        return std::abs(a - b) > share * std::max(std::abs(a), std::abs(b)) + floor;
      };
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
    of(fmt::format("fit {}", id), [&] {
      const std::string report = packing::report_of(row.getColumn(3).getString());
      if (!rows::is_report(db_, report)) fault(fmt::format("fit {}: its report is no JSON", id));
      const std::size_t covariances = packing::covariance_of(row.getColumn(4).getString()).size();
      const FitEstimates estimates = packing::estimates_of(row.getColumn(5).getString());
      rows::require_sound(estimates.parameters);
      rows::require_sound(estimates.derived);
      if (family.empty()) return;
      const FamilyInfo& info = find_family(family, row.getColumn(2).getString());
      // earlier versions knew no parts at the end of a table
      const std::size_t stored = estimates.parameters.size();
      const bool whole = stored == info.parameters.size() ||
                         (stored < info.parameters.size() && !info.parameters[stored].part.empty());
      if (covariances != 0 && covariances != stored * stored) {
        fault(fmt::format("fit {} has {} covariances of {} parameters", id, covariances, stored));
      }
      if (!whole) {
        fault(fmt::format("fit {} has {} parameters; family {} has {}", id, stored, family, info.parameters.size()));
      }
    });
  }

  void screening(SQLite::Statement& row) {
    of("the figures for screening of lamp '" + row.getColumn(0).getString() + "'",
       [&] { packing::screening_of(row.getColumn(1).getString()); });
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

}  // namespace lampload
