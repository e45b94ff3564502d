// One library into another: everything that belongs to a lamp comes along, the same content never conflicts, nothing is
// overwritten, and a library that is refused changes nothing. And what several files of one receive do to each other.

#include "db/merge.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <functional>
#include <set>

#include "core/error.h"
#include "db/lamp_file.h"
#include "db/library.h"
#include "tests/db/heater_lamp.h"
#include "tests/db/records.h"
#include "tests/db/temporary_folder.h"

namespace lampload::merge_test {
namespace {

using Access = Library::Access;
using Outcome = Receipt::Outcome;
using test::bytes_of;

const Provenance today = {"rower", "2026-05-01T10:00:00Z", "", "0.1.0"};
const std::string other_day = "2026-06-02T10:00:00Z";

Error error_of(const std::function<void()>& work) {
  try {
    work();
  } catch (const Error& error) {
    return error;
  }
  return {ErrorCode::usage, "nothing was thrown"};
}

LampRecord heater(const std::string& name, double nominal_v = 230.0) {
  LampRecord lamp = test::heater_lamp();
  lamp.name = name;
  lamp.nominal.voltage_v = nominal_v;
  return lamp;
}

SharedLamp shared(const std::string& name, double nominal_v = 230.0, const std::string& key = "") {
  SharingTerms terms;
  terms.with_samples = true;
  if (!key.empty()) terms.key = SecretKey(key);
  SharedLamp lamp = shared_lamp(heater(name, nominal_v), terms);
  lamp.file = name + ".lamp.json";
  return lamp;
}

class Merge : public ::testing::Test {
 protected:
  /// Measured there.
  static void store(const std::string& library, const LampRecord& lamp) {
    std::vector<StoredCapture> captures = lamp.captures;
    for (StoredCapture& one : captures) one.id = 0;
    StoredFit fit = *lamp.fit;
    fit.capture_ids.clear();
    Library::open(library, Access::read_write).store(lamp.name, lamp.nominal, captures, fit);
  }
  static LampRecord lamp(const std::string& library, const std::string& name) {
    return Library::open(library, Access::read_only).lamp(name, true);
  }
  static std::vector<std::string> names(const std::string& library) {
    std::vector<std::string> list;
    for (const LampSummary& one : Library::open(library, Access::read_only).lamps()) list.push_back(one.name);
    return list;
  }
  LibraryMerge merge(OnConflict way = OnConflict::keep, bool trial = false) const {
    return merge_library(here, there, way, trial, other_day);
  }
  using Names = std::vector<std::string>;

  test::TemporaryFolder folder;
  std::string here = folder.file("here.db");
  std::string there = folder.file("there.db");
};

/// A library in which every table has rows.
void fill(const std::string& path) {
  Library library = Library::open(path, Access::read_write);
  StoredFit of_type = *test::heater_lamp().fit;
  of_type.capture_ids.clear();
  of_type.report = R"({"blocks":1234})";
  StoredFit of_sample = of_type;
  of_sample.sample = "second piece";
  of_sample.spread_source.clear();
  of_sample.load_spreads.clear();
  of_type.samples = {of_sample};
  ScreeningFigures figures;
  figures.voltage_v = 230.0;
  figures.frequency_hz = 50.0;
  of_type.screening = figures;
  StoredCapture first = test::heater_lamp().captures[0];
  first.id = 0;
  StoredCapture second = first;
  second.sha256 = sha256_hex("second");
  second.sample = "second piece";
  Nominal nominal = test::heater_lamp().nominal;
  nominal.base = "GU10";
  nominal.technology = "halogen";
  nominal.dc_points = {{12.0, 0.5, 0.01}};
  Channel channel;
  channel.name = "stair relay";
  channel.output.kind = OutputKind::relay;
  channel.output.switch_kind = SwitchKind::relay;
  library.store("clubroom heater", nominal, {first, second}, of_type);
  library.store("clubroom heater", {}, {}, of_type);
  library.store_comparisons("clubroom heater", {test::stair_comparison()});
  library.store_signer_key({std::string(64, 'a'), "the other boathouse", true, "", ""});
  library.receive(std::vector{shared("received heater")}, OnConflict::keep, today);
  library.receive(std::vector{shared("received heater", 120.0)}, OnConflict::replace, today);
}

TEST_F(Merge, BringsEveryRowAlong) {
  fill(there);
  const LibraryMerge done = merge();
  EXPECT_TRUE(done.stored);
  EXPECT_EQ(done.own, 1U);
  SQLite::Database a(there);
  SQLite::Database b(here);
  SQLite::Statement tables(a, "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'");
  std::set<std::string> empty;
  while (tables.executeStep()) {
    const std::string table = tables.getColumn(0).getString();
    const std::string count = "SELECT count(*) FROM " + table;
    EXPECT_EQ(b.execAndGet(count).getInt64(), a.execAndGet(count).getInt64()) << table;
    if (a.execAndGet(count).getInt64() == 0) empty.insert(table);
  }
  // A channel is stored by its file in another test.
  EXPECT_EQ(empty, (std::set<std::string>{"channels"}));
  const LampRecord before = lamp(there, "clubroom heater");
  const LampRecord after = lamp(here, "clubroom heater");
  EXPECT_EQ(after.captures[0].capture.voltage_v, before.captures[0].capture.voltage_v);
  EXPECT_EQ(after.captures[1].sample, "second piece");
  EXPECT_EQ(after.captures[0].provenance.person, "rower");
  EXPECT_EQ(after.fit->report, before.fit->report);
  EXPECT_EQ(after.fit->samples.size(), 1U);
  EXPECT_EQ(after.fit->capture_ids.size(), before.fit->capture_ids.size());
  EXPECT_EQ(after.nominal.base, "GU10");
  EXPECT_EQ(after.nominal.dc_points.size(), 1U);
  EXPECT_EQ(after.comparisons.size(), 1U);
  EXPECT_EQ(after.trust, Trust::own);
  EXPECT_EQ(shared_lamp(after, {}).text, shared_lamp(before, {}).text);
  const LampRecord received = lamp(here, "received heater");
  EXPECT_EQ(received.trust, Trust::unsigned_record);
  EXPECT_EQ(received.origin->file, "received heater.lamp.json");
  ASSERT_EQ(received.earlier.size(), 1U);
  EXPECT_EQ(received.earlier[0].name, "received heater (until 2026-05-01)");
  EXPECT_EQ(received.earlier[0].time_utc, today.time_utc);
  EXPECT_EQ(lamp(here, received.earlier[0].name).superseded_by, "received heater");
  // Once more, and the other way round: all of it is there.
  for (const auto& [to, from] : {std::pair{here, there}, std::pair{there, here}}) {
    const std::string bytes = bytes_of(to);
    for (const OnConflict way : {OnConflict::keep, OnConflict::replace, OnConflict::add}) {
      const LibraryMerge again = merge_library(to, from, way, false, other_day);
      EXPECT_FALSE(again.changes());
      EXPECT_FALSE(again.stored);
    }
    EXPECT_EQ(bytes_of(to), bytes);
  }
}

struct ConflictWay {
  OnConflict way;
  Outcome outcome;
  std::vector<std::string> listed;
  double stored_v;  ///< nominal voltage of what is called heater then
};

TEST_F(Merge, DoesWithADifferingLampWhatWasAskedFor) {
  for (const ConflictWay& one :
       {ConflictWay{OnConflict::keep, Outcome::kept, {"heater"}, 230.0},
        ConflictWay{OnConflict::replace, Outcome::replaced, {"heater"}, 120.0},
        ConflictWay{OnConflict::add, Outcome::added_beside, {"heater", "heater (merged)"}, 230.0}}) {
    for (const std::string& path : {here, there}) std::filesystem::remove(path);
    store(here, heater("heater"));
    store(there, heater("heater", 120.0));
    const std::string bytes = bytes_of(here);
    const LibraryMerge trial = merge(one.way, true);
    EXPECT_EQ(bytes_of(here), bytes);
    const LibraryMerge done = merge(one.way);
    for (const LibraryMerge& told : {trial, done}) {
      ASSERT_EQ(told.lamps.size(), 1U);
      EXPECT_EQ(told.lamps[0].receipt.outcome, one.outcome);
      EXPECT_EQ(told.lamps[0].receipt.remark, "another lamp of this name is stored");
    }
    EXPECT_EQ(names(here), one.listed);
    EXPECT_EQ(lamp(here, "heater").nominal.voltage_v, one.stored_v);
    if (one.way == OnConflict::replace) {
      EXPECT_EQ(lamp(here, "heater (until 2026-06-02)").nominal.voltage_v, 230.0);
      EXPECT_EQ(lamp(here, "heater (until 2026-06-02)").superseded_by, "heater");
    }
    EXPECT_EQ(merge(one.way).stored, false);  // and not once more
    if (one.way != OnConflict::add) continue;
    // Back again: what each knows under another name is known.
    EXPECT_TRUE(merge_library(there, here, one.way, false, other_day).stored);
    EXPECT_EQ(names(there), one.listed);
    for (const auto& [to, from] : {std::pair{here, there}, std::pair{there, here}}) {
      EXPECT_FALSE(merge_library(to, from, one.way, false, other_day).changes());
    }
  }
}

// There a lamp was replaced that is still in use here.
TEST_F(Merge, KnowsAPredecessorAgain) {
  store(here, heater("heater"));
  store(there, heater("heater"));
  Library::open(there, Access::read_write).receive(std::vector{shared("heater", 120.0)}, OnConflict::replace, today);
  EXPECT_EQ(merge().lamps[0].receipt.outcome, Outcome::kept);
  EXPECT_EQ(merge(OnConflict::replace).stored, true);
  EXPECT_EQ(names(here), Names{"heater"});
  ASSERT_EQ(lamp(here, "heater").earlier.size(), 1U);
  EXPECT_EQ(lamp(here, "heater").earlier[0].name, "heater (until 2026-06-02)");
  EXPECT_EQ(lamp(here, "heater").trust, Trust::unsigned_record);
}

TEST_F(Merge, WhatASignerIsThoughtOfHereStays) {
  const std::string secret = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60";
  const std::string key = SecretKey(secret).public_key();
  Library::open(there, Access::read_write)
      .receive(std::vector{shared("heater", 230.0, secret)}, OnConflict::keep, today);
  Library::open(there, Access::read_write).store_signer_key({key, "the boathouse", true, "", ""});
  store(there, heater("own heater", 110.0));
  Library::open(here, Access::read_write).store_signer_key({key, "strangers", false, "stolen", ""});
  const std::string bytes = bytes_of(here);
  const LibraryMerge refused = merge();
  EXPECT_EQ(refused.refused(), 1U);
  EXPECT_FALSE(refused.stored);
  EXPECT_EQ(bytes_of(here), bytes);
  EXPECT_NE(refused.lamps[0].refused.find("'heater' is signed with the key of 'strangers', which was revoked here on"),
            std::string::npos);
  EXPECT_EQ(refused.keys[0].remark, "accepted there, revoked here, and stays so");
  Library::open(here, Access::read_write).store_signer_key({key, "strangers", true, "", ""});
  Library::open(there, Access::read_write).store_signer_key({key, "the boathouse", false, "lost", ""});
  const LibraryMerge done = merge();
  EXPECT_TRUE(done.stored);
  EXPECT_NE(done.keys[0].remark.find("revoked there because: lost, accepted here, and stays so"), std::string::npos);
  EXPECT_EQ(lamp(here, "heater").trust, Trust::accepted_signer);
}

TEST_F(Merge, RefusesWhatIsNoWholeLibraryOfThisVersion) {
  store(here, heater("heater"));
  const std::string bytes = bytes_of(here);
  const auto refusal = [&](const std::string& other) {
    const Error error = error_of([&] { merge_library(here, other, OnConflict::keep, false, other_day); });
    EXPECT_EQ(error.code(), ErrorCode::library);
    EXPECT_EQ(bytes_of(here), bytes);
    return std::string(error.what());
  };
  EXPECT_NE(refusal(here).find("is this library itself"), std::string::npos);
  EXPECT_NE(refusal(folder.file("none.db")).find("there is no such file"), std::string::npos);
  store(there, heater("radiator"));
  SQLite::Database(there, SQLite::OPEN_READWRITE).exec("UPDATE lamp_types SET captures = 7");
  EXPECT_NE(refusal(there).find("is not whole, and nothing was taken from it: lamp 'radiator' is listed with 7"),
            std::string::npos);
  SQLite::Database(there, SQLite::OPEN_READWRITE).exec("PRAGMA user_version = 4711");
  EXPECT_NE(refusal(there).find("has library schema 4711, newer than schema"), std::string::npos);
}

TEST_F(Merge, FilesOfOneReceiveMeetEachOther) {
  const std::vector<SharedLamp> lamps = {shared("heater"), shared("heater", 120.0), shared("heater", 110.0),
                                         shared("heater", 120.0)};
  for (const OnConflict way : {OnConflict::keep, OnConflict::replace, OnConflict::add}) {
    std::filesystem::remove(here);
    const std::vector<Receipt> told = Library::in_memory().receipts(lamps, way, today.time_utc);
    const std::vector<Receipt> done = Library::open(here, Access::read_write).receive(lamps, way, today);
    ASSERT_EQ(told.size(), done.size());
    for (std::size_t i = 0; i < told.size(); ++i) {
      EXPECT_EQ(told[i].outcome, done[i].outcome);
      EXPECT_EQ(told[i].stored_as, done[i].stored_as);
      EXPECT_EQ(told[i].remark, done[i].remark);
    }
    EXPECT_EQ(told[1].remark, "another lamp of this name comes with heater.lamp.json, in the same run");
    const bool all = way == OnConflict::add;
    EXPECT_EQ(names(here), all ? (Names{"heater", "heater (received)", "heater (received, 2)"}) : Names{"heater"});
    EXPECT_EQ(told[3].outcome == Outcome::unchanged, all);
  }
  // Replaced one by the other: the last one has the name, and the others are its past.
  std::filesystem::remove(here);
  Library::open(here, Access::read_write).receive(lamps, OnConflict::replace, today);
  EXPECT_EQ(lamp(here, "heater").nominal.voltage_v, 120.0);
}

}  // namespace
}  // namespace lampload::merge_test
