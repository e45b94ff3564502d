// Migrations, with made-up steps behind and ahead of the real ones.

#include "db/schema.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "core/error.h"
#include "tests/db/records.h"
#include "tests/db/temporary_folder.h"

namespace lampload::schema_test {
namespace {

using Access = Library::Access;

constexpr std::string_view add_shelf = "ALTER TABLE lamp_types ADD COLUMN shelf TEXT NOT NULL DEFAULT 'boat rack'";
constexpr std::string_view rebuild_samples = R"(
  CREATE TABLE samples_new (
    id INTEGER PRIMARY KEY, lamp_type_id INTEGER NOT NULL REFERENCES lamp_types (id) ON DELETE CASCADE,
    label TEXT NOT NULL, colour TEXT NOT NULL DEFAULT 'white', UNIQUE (lamp_type_id, label), UNIQUE (lamp_type_id, id)
  ) STRICT;
  INSERT INTO samples_new (id, lamp_type_id, label) SELECT id, lamp_type_id, label FROM samples;
  DROP TABLE samples;
  ALTER TABLE samples_new RENAME TO samples)";

class SchemaTest : public ::testing::Test {
 protected:
  SchemaTest() {
    known.assign(schema::migrations().begin(), schema::migrations().end());
    now = static_cast<int>(known.size());
    Library::open(path, Access::read_write).store("Stair candle", {}, {test::pendant_capture()}, test::pendant_fit());
  }

  static int version(SQLite::Database& db) { return db.execAndGet("PRAGMA user_version").getInt(); }

  test::TemporaryFolder folder;
  std::string path = folder.file("library.db");
  std::vector<schema::Migration> known;
  int now = 0;
};

TEST_F(SchemaTest, EveryMigrationIsNumberedInOrder) {
  for (std::size_t i = 0; i < known.size(); ++i) {
    EXPECT_TRUE(known[i].name.starts_with(fmt::format("{:04}_", i + 1))) << known[i].name;
    EXPECT_FALSE(known[i].sql.empty());
  }
  EXPECT_EQ(Library::schema_version(), now);
}

TEST_F(SchemaTest, ANewLibraryCarriesItsMarks) {
  SQLite::Database db(path);
  EXPECT_EQ(db.execAndGet("PRAGMA application_id").getInt(), schema::application_id);
  EXPECT_EQ(version(db), now);
  EXPECT_EQ(db.execAndGet("PRAGMA journal_mode").getString(), "wal");
  EXPECT_EQ(db.execAndGet("SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND strict "
                          "= 0 AND name NOT LIKE 'sqlite_%'")
                .getInt(),
            0);
}

TEST_F(SchemaTest, AnOlderLibraryIsMigratedAfterABackup) {
  known.push_back({"next", add_shelf});
  known.push_back({"next but one", rebuild_samples});
  {
    SQLite::Database db = schema::open(path, Access::read_write, known);
    EXPECT_EQ(version(db), now + 2);
    EXPECT_EQ(db.execAndGet("SELECT shelf FROM lamp_types").getString(), "boat rack");
    EXPECT_EQ(db.execAndGet("SELECT colour FROM samples").getString(), "white");
    EXPECT_EQ(db.execAndGet("SELECT count(*) FROM captures").getInt(), 1)
        << "dropping the old table took nothing along";
    EXPECT_EQ(db.execAndGet("PRAGMA foreign_keys").getInt(), 1);
  }
  const std::string backup = path + ".schema-" + std::to_string(now) + ".backup";
  const LampRecord kept = Library::open(backup, Access::read_only).lamp("Stair candle", true);
  EXPECT_EQ(kept.captures.at(0).capture.voltage_v, test::pendant_capture().capture.voltage_v);
  EXPECT_EQ(folder.files(), 2);
}

TEST_F(SchemaTest, AnEarlierBackupIsNotOverwritten) {
  const std::string backup = path + ".schema-" + std::to_string(now) + ".backup";
  test::write_bytes(backup, "kept");
  known.push_back({"next", add_shelf});
  schema::open(path, Access::read_write, known);
  EXPECT_EQ(test::bytes_of(backup), "kept");
  EXPECT_TRUE(std::filesystem::exists(path + ".schema-" + std::to_string(now) + "-2.backup"));
}

TEST_F(SchemaTest, AFailingStepLeavesTheSchemaBeforeIt) {
  known.push_back({"next", add_shelf});
  known.push_back({"broken", "CREATE TABLE half (a INTEGER) STRICT; CREATE TABLE half (a INTEGER) STRICT"});
  EXPECT_THROW(schema::open(path, Access::read_write, known), Error);
  known.pop_back();
  SQLite::Database db = schema::open(path, Access::read_write, known);
  EXPECT_EQ(version(db), now + 1);
  EXPECT_EQ(db.execAndGet("SELECT count(*) FROM sqlite_schema WHERE name = 'half'").getInt(), 0);
}

TEST_F(SchemaTest, AStepThatBreaksReferencesIsRolledBack) {
  known.push_back({"careless", "DELETE FROM lamp_types"});
  try {
    schema::open(path, Access::read_write, known);
    ADD_FAILURE() << "migrated";
  } catch (const Error& error) {
    EXPECT_NE(std::string(error.what()).find("migration careless leaves rows of"), std::string::npos) << error.what();
  }
  EXPECT_EQ(Library::open(path, Access::read_only).lamps().size(), 1U);
}

TEST_F(SchemaTest, AnOlderLibraryOpenedToReadIsNotChanged) {
  const std::string before = test::bytes_of(path);
  known.push_back({"next", add_shelf});
  {
    SQLite::Database db = schema::open(path, Access::read_only, known);
    EXPECT_EQ(db.execAndGet("SELECT shelf FROM lamp_types").getString(), "boat rack");
  }
  EXPECT_EQ(test::bytes_of(path), before);
  EXPECT_EQ(folder.files(), 1);
}

TEST_F(SchemaTest, AFitOfSchemaOneIsKeptWithoutAReport) {
  const std::string old = folder.file("old.db");
  {
    SQLite::Database db = schema::open(old, Access::read_write, std::span(known).first(1));
    db.exec(R"(
      INSERT INTO lamp_types (id, name, changed_utc) VALUES (7, 'Boat rack', '2024-02-29T12:00:00Z');
      INSERT INTO fits VALUES (3, 7, 1, 'fits', 'resistor', '', x'0000000000000840', 0.25, 1.5, '', '', '', 42, 'rower',
                               '2024-02-29T12:00:00Z', '', '0.1.0');
      INSERT INTO fit_estimates VALUES (3, 'parameter', 0, 'resistance_ohm', 'Ohm', 500, 1, 498, 502, 1, ''))");
  }
  Library library = Library::open(old, Access::read_write);
  const LampRecord lamp = library.lamp("Boat rack");
  ASSERT_TRUE(lamp.fit);
  EXPECT_EQ(lamp.fit->report, "");
  EXPECT_EQ(lamp.fit->residual_rms_a, 0.25);
  EXPECT_EQ(lamp.fit->covariance, std::vector<double>{3.0});
  EXPECT_EQ(lamp.fit->parameters.at(0).value, 500.0);
  StoredFit newer = *lamp.fit;
  newer.report = R"({"blocks":12})";
  library.store("Boat rack", {}, {}, newer);
  EXPECT_EQ(library.lamp("Boat rack").fit->report, newer.report);
}

TEST_F(SchemaTest, AFitOfSchemaThreeIsTheTypes) {
  const std::string old = folder.file("three.db");
  {
    SQLite::Database db = schema::open(old, Access::read_write, std::span(known).first(3));
    db.exec(R"(
      INSERT INTO lamp_types (id, name, changed_utc) VALUES (7, 'Boat rack', '2024-02-29T12:00:00Z');
      INSERT INTO samples (id, lamp_type_id, label) VALUES (5, 7, 'sample 1');
      INSERT INTO fits VALUES (3, 7, 1, 'fits', 'resistor', '', x'0000000000000840', 0.25, 1.5, '', '', '', 42, 'rower',
                               '2024-02-29T12:00:00Z', '', '0.1.0', '');
      INSERT INTO fit_estimates VALUES (3, 'parameter', 0, 'resistance_ohm', 'Ohm', 500, 1, 498, 502, 1, ''))");
  }
  Library library = Library::open(old, Access::read_write);
  const LampRecord lamp = library.lamp("Boat rack");
  ASSERT_TRUE(lamp.fit);
  EXPECT_EQ(lamp.fit->parameters.at(0).value, 500.0);
  EXPECT_EQ(lamp.fit->sample, "");
  EXPECT_EQ(lamp.fit->spread_source, "");
  EXPECT_TRUE(lamp.fit->samples.empty());
  EXPECT_TRUE(lamp.fit->load_spreads.empty());
}

TEST_F(SchemaTest, ALampOfSchemaFourHasNoComparisons) {
  const std::string old = folder.file("four.db");
  {
    SQLite::Database db = schema::open(old, Access::read_write, std::span(known).first(4));
    db.exec(R"(
      INSERT INTO lamp_types (id, name, changed_utc) VALUES (7, 'Boat rack', '2024-02-29T12:00:00Z');
      INSERT INTO fits (id, lamp_type_id, accepted, verdict, family, load_law, covariance, residual_rms_a,
                        normalised_residual, next_capture, next_narrows, next_sentence, seed, person, time_utc,
                        instrument, program_version)
      VALUES (3, 7, 1, 'fits', 'resistor', '', x'0000000000000840', 0.25, 1.5, '', '', '', 42, 'rower',
              '2024-02-29T12:00:00Z', '', '0.1.0');
      INSERT INTO fit_estimates VALUES (3, 'parameter', 0, 'resistance_ohm', 'Ohm', 500, 1, 498, 502, 1, ''))");
  }
  Library library = Library::open(old, Access::read_write);
  EXPECT_TRUE(library.lamp("Boat rack").comparisons.empty());
  EXPECT_EQ(library.lamp("Boat rack").fit->parameters.at(0).value, 500.0);
  library.store_comparisons("Boat rack", {test::stair_comparison()});
  EXPECT_EQ(library.lamp("Boat rack").comparisons.at(0).fit_id, 3);
  // Nor cap and technology, which came later.
  EXPECT_FALSE(library.lamp("Boat rack").nominal.base);
  EXPECT_FALSE(library.lamp("Boat rack").nominal.technology);
  Nominal label;
  label.base = "E27";
  library.store("Boat rack", label, {}, std::nullopt);
  label = {};
  label.technology = "led";
  library.store("Boat rack", label, {}, std::nullopt);
  EXPECT_EQ(library.lamp("Boat rack").nominal.base, "E27");
  EXPECT_EQ(library.lamps().at(0).technology, "led");
  label.technology = "lantern";
  EXPECT_THROW(library.store("Boat rack", label, {}, std::nullopt), Error);
}

TEST_F(SchemaTest, AReportMustBeJson) {
  StoredFit fit = test::pendant_fit();
  fit.report = "{\"blocks\":";
  Library library = Library::open(path, Access::read_write);
  EXPECT_THROW(library.store("Stair candle", {}, {}, fit), Error);
  EXPECT_EQ(library.lamp("Stair candle").fits, 1);
}

TEST_F(SchemaTest, ALockedLibraryIsSaidToBeInUse) {
  const Error error = schema::translated(path, SQLite::Exception("database is locked", 5));
  EXPECT_EQ(error.code(), ErrorCode::library);
  EXPECT_NE(std::string(error.what()).find("is in use by another process"), std::string::npos);
}

}  // namespace
}  // namespace lampload::schema_test
