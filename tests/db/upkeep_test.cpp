// Looking after the library: whole and damaged files, copies, what comes back; and finding lamps in it.

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <functional>

#include "core/error.h"
#include "db/lamp_search.h"
#include "db/library.h"
#include "db/packing.h"
#include "db/schema.h"
#include "db/upkeep.h"
#include "tests/db/records.h"
#include "tests/db/temporary_folder.h"

namespace lampload::upkeep_test {
namespace {

using Access = Library::Access;
using test::bytes_of;

std::string refusal(const std::function<void()>& work) {
  try {
    work();
  } catch (const Error& error) {
    EXPECT_EQ(error.code(), ErrorCode::library);
    return error.what();
  }
  return "done";
}

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

class Upkeep : public ::testing::Test {
 protected:
  /// Whose figures are those of its samples.
  static StoredCapture measured(const std::string& file) {
    StoredCapture capture = test::pendant_capture(file, 6000);
    capture.capture.clipped.clear();
    capture.figures = measure(capture.capture);
    return capture;
  }
  void store(const std::string& lamp) const {
    StoredFit fit = test::pendant_fit();
    fit.family = "filament";
    fit.load_law = "";
    fit.covariance.clear();
    fit.parameters.resize(6, {"x", "", 1.0, 0.0, 1.0, 1.0, true, ""});
    fit.rivals.clear();
    Library::open(path, Access::read_write).store(lamp, {}, {measured(lamp + ".csv")}, fit);
  }
  std::vector<std::string> names(const std::string& library) const {
    std::vector<std::string> list;
    for (const LampSummary& lamp : Library::open(library, Access::read_only).lamps()) list.push_back(lamp.name);
    return list;
  }

  test::TemporaryFolder folder;
  std::string path = folder.file("library.db");
};

TEST_F(Upkeep, AWholeLibraryIsTold) {
  store("stair candle");
  store("clubroom pendant");
  const std::string before = bytes_of(path);
  const LibraryCheck found = check_library(path);
  EXPECT_EQ(found.faults, std::vector<std::string>{});
  EXPECT_EQ(found.lamps, 2U);
  EXPECT_EQ(found.captures, 2U);
  EXPECT_EQ(found.fits, 2U);
  EXPECT_EQ(bytes_of(path), before);
}

struct Damage {
  const char* what;
  const char* sql;
  const char* told;
};

TEST_F(Upkeep, WhatIsNotWholeIsTold) {
  const Damage damages[] = {
      {"samples", "UPDATE captures SET current_a = substr(current_a, 1, length(current_a) - 9)",
       "capture 1 of lamp 'stair candle'"},
      {"figures", "UPDATE captures SET figures = replace(figures, '\"voltage_rms_v\":', '\"voltage_rms_v\":9')",
       "its samples give"},
      {"document", "UPDATE captures SET figures = '{}'", "capture 1 of lamp 'stair candle'"},
      {"digest", "UPDATE captures SET sha256 = replace(hex(zeroblob(32)), '0', 'x')", "its digest is none"},
      {"list", "UPDATE lamp_types SET fits = 7", "is listed with 1 captures and 7 fits, and has 1 and 1"},
      {"family", "UPDATE fits SET family = 'lantern'", "no lamp family 'lantern'"},
      {"circuit",
       "UPDATE fits SET estimates = (SELECT packed_estimates_1('parameter', 0, 'x', '', 1.0, 0.0, 1.0, 1.0, 1, ''))",
       "fit 1 has 1 parameters; family filament has 6"},
      {"interval",
       "UPDATE fits SET estimates = (SELECT packed_estimates_1('parameter', 0, 'x', '', 1.0, 0.0, 2.0, 1.0, 1, ''))",
       "x of the fit has the uncertainty 0 and the interval 2 to 1"},
      {"estimates", "UPDATE fits SET estimates = substr(estimates, 1, length(estimates) - 5)",
       "a packed part of a fit is damaged"},
      {"report", "UPDATE fits SET report = substr(report, 1, length(report) - 5)", "a packed part of a fit is damaged"},
      {"covariance", "UPDATE fits SET covariance = x'00112233445566778899'", "a packed part of a fit is damaged"},
      {"reference", "DELETE FROM samples", "row 1 of captures refers to a row of samples that is not there"},
      {"channel", "INSERT INTO channels (name, description, changed_utc) VALUES ('c', '{}', '')", "channel 'c'"},
  };
  for (const Damage& damage : damages) {
    std::filesystem::remove(path);
    store("stair candle");
    {
      SQLite::Database db(path, SQLite::OPEN_READWRITE);
      db.exec("PRAGMA foreign_keys = OFF");
      packing::add_functions(db);
      db.exec(damage.sql);
    }
    const LibraryCheck found = check_library(path);
    ASSERT_FALSE(found.faults.empty()) << damage.what;
    EXPECT_TRUE(contains(found.faults.front(), damage.told)) << damage.what << ": " << found.faults.front();
  }
}

TEST_F(Upkeep, ABackupComesBackAndNothingIsOverwritten) {
  store("stair candle");
  const std::string copy = folder.file("copy.db");
  const Library open_meanwhile = Library::open(path, Access::read_write);
  back_up_library(path, copy);
  EXPECT_TRUE(contains(refusal([&] { back_up_library(path, copy); }), "copy.db: is there already, and was left alone"));
  EXPECT_TRUE(contains(refusal([&] { back_up_library(path, folder.file("no/such/copy.db")); }), "could not be"));
  store("clubroom pendant");
  const std::string kept = restore_library(path, copy);
  EXPECT_EQ(kept, path + ".before-restore.backup");
  EXPECT_EQ(names(path), std::vector<std::string>{"stair candle"});
  EXPECT_EQ(names(kept), (std::vector<std::string>{"clubroom pendant", "stair candle"}));
  EXPECT_EQ(open_meanwhile.lamps().size(), 1U);
  EXPECT_EQ(restore_library(path, kept), path + ".before-restore-2.backup");
  EXPECT_EQ(names(path).size(), 2U);
  EXPECT_EQ(restore_library(folder.file("new/library.db"), copy), "");
  EXPECT_TRUE(check_library(path).faults.empty());
}

TEST_F(Upkeep, ADamagedFileIsToldAndSalvaged) {
  for (int i = 0; i < 40; ++i) store("lamp " + std::to_string(i));
  back_up_library(path, folder.file("copy.db"));
  // a page in the middle of the captures, and a few more: found by what they hold
  std::string bytes = bytes_of(folder.file("copy.db"));
  const std::size_t place = bytes.find("lamp 20.csv");
  ASSERT_NE(place, std::string::npos);
  const std::size_t page = place / 4096 * 4096;
  for (std::size_t i = 0; i < 4096; ++i) bytes[page + i] = static_cast<char>(0xA5 ^ (i % 251));
  const std::string broken = folder.file("broken.db");
  test::write_bytes(broken, bytes);

  const LibraryCheck found = check_library(broken);
  EXPECT_FALSE(found.faults.empty());
  EXPECT_TRUE(contains(refusal([&] { restore_library(path, broken); }), "is damaged"));
  EXPECT_EQ(names(path).size(), 40U);

  const std::string saved = folder.file("saved.db");
  const Salvage salvage = salvage_library(broken, saved);
  EXPECT_FALSE(salvage.damaged.empty());
  EXPECT_EQ(check_library(saved).faults, std::vector<std::string>{});
  EXPECT_EQ(names(saved).size(), 40U);
  EXPECT_GT(check_library(saved).captures, 20U);
  EXPECT_EQ(bytes_of(broken), bytes);

  // in the place of a library that cannot be read any more, which is kept as it lies there
  test::write_bytes(path, bytes);
  std::filesystem::remove(path + "-wal");
  std::filesystem::remove(path + "-shm");
  const std::string kept = restore_library(path, saved);
  EXPECT_EQ(bytes_of(kept), bytes);
  EXPECT_EQ(names(path).size(), 40U);
}

TEST_F(Upkeep, AFitIsSavedWithoutWhatDoesNotUnpack) {
  store("stair candle");
  {
    SQLite::Database db(path, SQLite::OPEN_READWRITE);
    db.exec("UPDATE fits SET report = substr(report, 1, length(report) - 5), covariance = x'0011'");
    db.exec("INSERT INTO screening VALUES (1, 1, 230, 50, x'0011')");
  }
  const std::string saved = folder.file("saved.db");
  const Salvage salvage = salvage_library(path, saved);
  ASSERT_EQ(salvage.damaged.size(), 3U);
  EXPECT_TRUE(
      contains(salvage.damaged[0], "the report of row 1 of fits was left out: a packed part of a fit is damaged"))
      << salvage.damaged[0];
  EXPECT_TRUE(contains(salvage.damaged[2], "the figures of row 1 of screening was left out")) << salvage.damaged[2];
  EXPECT_EQ(check_library(saved).faults, std::vector<std::string>{});
  EXPECT_EQ(Library::open(saved, Access::read_only).lamp("stair candle").fit->family, "filament");
}

TEST_F(Upkeep, ALampWhoseRecordIsLostIsNobodys) {
  store("stair candle");
  {
    SQLite::Database db(path, SQLite::OPEN_READWRITE);
    db.exec("UPDATE lamp_types SET received = 1");  // and no row of received_lamps, as after damage
  }
  const std::string saved = folder.file("saved.db");
  const Salvage salvage = salvage_library(path, saved);
  ASSERT_EQ(salvage.damaged.size(), 1U);
  EXPECT_TRUE(contains(salvage.damaged[0],
                       "where 'stair candle' came from is lost with its record: it is told as not "
                       "signed, whoever signed it"))
      << salvage.damaged[0];
  const LampRecord lamp = Library::open(saved, Access::read_only).lamp("stair candle");
  EXPECT_EQ(lamp.trust, Trust::unsigned_record);
  EXPECT_FALSE(lamp.origin.has_value());
}

TEST_F(Upkeep, AFullDiskIsToldAndLosesNothing) {
  store("stair candle");
  {
    // SQLite's own limit stands for the disk's: the same error out of the same write
    SQLite::Database db = schema::open(path, Access::read_write);
    const int pages = db.execAndGet("PRAGMA page_count").getInt();
    db.exec("PRAGMA max_page_count = " + std::to_string(pages + 2));
    const std::string said = refusal([&] {
      schema::guarded(path, [&] {
        SQLite::Transaction transaction(db);
        for (int i = 0; i < 100; ++i)
          db.exec("INSERT INTO channels (name, description, changed_utc) VALUES ('" + std::to_string(i) +
                  "', json_quote(hex(zeroblob(2000))), '')");
        transaction.commit();
      });
    });
    EXPECT_TRUE(contains(said, "could not be written: the disk is full. Make room; nothing was changed")) << said;
  }
  EXPECT_EQ(check_library(path).faults, std::vector<std::string>{});
  EXPECT_EQ(names(path), std::vector<std::string>{"stair candle"});
}

TEST_F(Upkeep, LampsAreFoundByWhatTheirListShows) {
  store("Stair candle, clear");
  store("stair candle 100%");
  store("clubroom pendant");
  const auto found = [&](const LampSearch& search) {
    std::string text;
    const FoundLamps answer = Library::open(path, Access::read_only).find(search);
    for (const LampSummary& lamp : answer.lamps) text += lamp.name + "; ";
    for (const std::string& name : answer.nearest) text += "near " + name + "; ";
    return text + std::to_string(answer.all);
  };
  EXPECT_EQ(found({}), "Stair candle, clear; clubroom pendant; stair candle 100%; 3");
  EXPECT_EQ(found({.most = 1}), "Stair candle, clear; 3");
  EXPECT_EQ(found({.words = "CANDLE stair"}), "Stair candle, clear; stair candle 100%; 2");
  EXPECT_EQ(found({.words = "0%"}), "stair candle 100%; 1");
  EXPECT_EQ(found({.words = "st_ir"}), "near Stair candle, clear; near stair candle 100%; 0");
  EXPECT_EQ(found({.words = "clubrom pendent"}), "near clubroom pendant; 0");
  EXPECT_EQ(found({.words = "'; DROP TABLE lamp_types; --"}), "0");
  EXPECT_EQ(found({.family = "filament", .most = 2}), "Stair candle, clear; clubroom pendant; 3");
  EXPECT_EQ(found({.family = "resistor"}), "0");
  EXPECT_EQ(found({.least_power_w = 16.0, .most_power_w = 17.0}),
            "Stair candle, clear; clubroom pendant; stair candle 100%; 3");
  EXPECT_EQ(found({.least_power_w = 17.0}), "0");
  EXPECT_EQ(found({.words = "pendant", .voltage_v = 240.0}), "clubroom pendant; 1");
  EXPECT_EQ(found({.voltage_v = 120.0}), "0");
  SQLite::Database(path, SQLite::OPEN_READWRITE)
      .exec("UPDATE lamp_types SET notes = 'bought for the SLIP' WHERE id = 3");
  EXPECT_EQ(found({.words = "slip club"}), "clubroom pendant; 1");
  EXPECT_EQ(found({.words = "slip stair"}), "0");
}

}  // namespace
}  // namespace lampload::upkeep_test
