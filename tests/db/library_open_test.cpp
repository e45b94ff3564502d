// What may lie at the path of a library, and what opening it does and does not do.

#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <string>
#include <thread>
#include <vector>

#include "core/error.h"
#include "db/library.h"
#include "db/schema.h"
#include "tests/db/records.h"
#include "tests/db/temporary_folder.h"

namespace lampload::library_open_test {
namespace {

using Access = Library::Access;
using test::bytes_of;
using test::write_bytes;

std::string refusal(const std::string& path, Access access) {
  try {
    const Library library = Library::open(path, access);
  } catch (const Error& error) {
    EXPECT_EQ(error.code(), ErrorCode::library);
    EXPECT_EQ(error.place().file, path);
    return error.what();
  }
  return "opened";
}

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// Refused both ways with these words, and neither the file nor its folder has changed.
void expect_left_alone(const test::TemporaryFolder& folder, const std::string& path, const std::string& words) {
  const std::string before = bytes_of(path);
  const auto time = std::filesystem::last_write_time(path);
  const auto files = folder.files();
  for (const Access access : {Access::read_only, Access::read_write}) {
    const std::string said = refusal(path, access);
    EXPECT_TRUE(contains(said, words)) << said;
  }
  EXPECT_EQ(bytes_of(path), before);
  EXPECT_EQ(std::filesystem::last_write_time(path), time);
  EXPECT_EQ(folder.files(), files);
}

class OpenTest : public ::testing::Test {
 protected:
  void make_library() const {
    Library::open(path, Access::read_write).store("Stair candle", {}, {test::pendant_capture()}, test::pendant_fit());
  }

  test::TemporaryFolder folder;
  std::string path = folder.file("library.db");
};

TEST_F(OpenTest, AMissingLibraryIsMadeWithItsFolders) {
  const std::string deep = folder.file("a/b c/ä/library.db");
  Library::open(deep, Access::read_write).store("Stair candle", {}, {}, std::nullopt);
  EXPECT_EQ(Library::open(deep, Access::read_only).lamps().size(), 1U);
}

TEST_F(OpenTest, SeveralAtOnceMakeOneLibrary) {
  constexpr int openers = 6;
  for (int round = 0; round < 5; ++round) {
    const std::string fresh = folder.file("round_" + std::to_string(round) + "/library.db");
    std::vector<std::string> told(openers);
    std::vector<std::thread> all;
    for (int k = 0; k < openers; ++k) {
      all.emplace_back([&, k] {
        try {
          Library::open(fresh, Access::read_write).store("lamp " + std::to_string(k), {}, {}, test::pendant_fit());
        } catch (const std::exception& error) {
          told[static_cast<std::size_t>(k)] = error.what();
        }
      });
    }
    for (std::thread& one : all) one.join();
    for (const std::string& one : told) EXPECT_EQ(one, "");
    EXPECT_EQ(Library::open(fresh, Access::read_only).lamps().size(), std::size_t{openers});
    EXPECT_FALSE(std::filesystem::exists(fresh + ".schema-1.backup"));
  }
}

TEST_F(OpenTest, ReadingAMissingLibraryMakesNothing) {
  const std::string said = refusal(path, Access::read_only);
  EXPECT_TRUE(contains(said, "there is no library here")) << said;
  EXPECT_EQ(folder.files(), 0);
}

TEST_F(OpenTest, NoSideFilesStayBehind) {
  make_library();
  EXPECT_EQ(folder.files(), 1);
  EXPECT_EQ(Library::open(path, Access::read_only).lamps().size(), 1U);
  EXPECT_EQ(folder.files(), 1);
}

TEST_F(OpenTest, ReadingChangesNothing) {
  make_library();
  const std::string before = bytes_of(path);
  {
    Library library = Library::open(path, Access::read_only);
    EXPECT_EQ(library.lamp("Stair candle", true).captures.size(), 1U);
    EXPECT_THROW(library.store("Workshop batten", {}, {}, std::nullopt), Error);
    EXPECT_THROW(library.remove_lamp("Stair candle"), Error);
  }
  EXPECT_EQ(bytes_of(path), before);
}

TEST_F(OpenTest, ANewerLibraryIsLeftAlone) {
  make_library();
  SQLite::Database(path, SQLite::OPEN_READWRITE).exec("PRAGMA user_version = 4711");
  expect_left_alone(folder, path,
                    "has library schema 4711, newer than schema " + std::to_string(Library::schema_version()) +
                        " that this program knows");
}

TEST_F(OpenTest, ANewerLibraryWhoseVersionIsStillInTheWalIsLeftAlone) {
  make_library();
  SQLite::Database writer(path, SQLite::OPEN_READWRITE);
  writer.exec("PRAGMA user_version = 4711");
  expect_left_alone(folder, path, "newer than schema");
}

TEST_F(OpenTest, ADatabaseOfAnotherProgramIsLeftAlone) {
  SQLite::Database(path, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE)
      .exec("CREATE TABLE boats (name TEXT); INSERT INTO boats VALUES ('four')");
  expect_left_alone(folder, path, "is a database of another program");
  SQLite::Database(path, SQLite::OPEN_READWRITE).exec("PRAGMA application_id = 42");
  expect_left_alone(folder, path, "application id 0x2a");
}

TEST_F(OpenTest, WhatIsNoDatabaseIsLeftAlone) {
  write_bytes(path, std::string(5000, 'x'));
  expect_left_alone(folder, path, "it is no SQLite database");
  write_bytes(path, "time,voltage,current\n0,1,2\n");
  expect_left_alone(folder, path, "it is no SQLite database");
}

TEST_F(OpenTest, AFolderIsNoLibrary) {
  std::filesystem::create_directory(path);
  EXPECT_TRUE(contains(refusal(path, Access::read_write), "is not a file"));
}

TEST_F(OpenTest, AFileInPlaceOfTheFolderIsSaid) {
  write_bytes(folder.file("file"), "x");
  const std::string said = refusal(folder.file("file/library.db"), Access::read_write);
  EXPECT_TRUE(contains(said, "could not be opened")) << said;
}

TEST_F(OpenTest, AnEmptyFileBecomesALibrary) {
  write_bytes(path, "");
  EXPECT_TRUE(contains(refusal(path, Access::read_only), "holds no library yet"));
  make_library();
  EXPECT_EQ(Library::open(path, Access::read_only).lamps().size(), 1U);
}

TEST_F(OpenTest, ATruncatedLibraryIsSaidToBeDamaged) {
  make_library();
  const std::string whole = bytes_of(path);
  for (const std::size_t size : {whole.size() / 2, whole.size() - 4096, std::size_t{1000}}) {
    write_bytes(path, whole.substr(0, size));
    try {
      const Library library = Library::open(path, Access::read_only);
      const LampRecord lamp = library.lamp("Stair candle", true);
      ADD_FAILURE() << "opened at " << size << " bytes";
    } catch (const Error& error) {
      EXPECT_EQ(error.code(), ErrorCode::library);
      EXPECT_TRUE(contains(error.what(), "damaged") || contains(error.what(), "no SQLite")) << error.what();
      EXPECT_TRUE(contains(error.what(), path)) << error.what();
    }
  }
}

TEST_F(OpenTest, AnyOverwrittenPageIsNoticedOrHarmless) {
  make_library();
  const std::string whole = bytes_of(path);
  const LampRecord truth = Library::open(path, Access::read_only).lamp("Stair candle", true);
  for (std::size_t page = 0; page * 4096 < whole.size(); ++page) {
    std::string damaged = whole;
    for (std::size_t i = page * 4096; i < (page + 1) * 4096; ++i) damaged[i] = static_cast<char>(0xA5);
    write_bytes(path, damaged);
    try {
      const LampRecord lamp = Library::open(path, Access::read_only).lamp("Stair candle", true);
      EXPECT_EQ(lamp.captures.at(0).capture.voltage_v, truth.captures.at(0).capture.voltage_v) << "page " << page;
      EXPECT_EQ(lamp.captures.at(0).capture.current_a, truth.captures.at(0).capture.current_a) << "page " << page;
    } catch (const Error&) {
      SUCCEED();
    }
  }
}

TEST_F(OpenTest, ALibraryInAReadOnlyFolderCanBeRead) {
  make_library();
  ASSERT_EQ(::chmod(path.c_str(), 0444), 0);
  ASSERT_EQ(::chmod(folder.path().c_str(), 0555), 0);
  // The administrator may write anywhere; look with the eyes of somebody who may not.
  constexpr uid_t nobody = 65534;
  const bool administrator = ::geteuid() == 0;
  if (administrator) {
    ASSERT_EQ(::seteuid(nobody), 0);
  }
  EXPECT_NO_THROW({
    const Library library = Library::open(path, Access::read_only);
    EXPECT_EQ(library.lamp("Stair candle", true).captures.at(0).capture.samples(), 2000U);
  });
  std::string said;
  try {
    Library::open(path, Access::read_write).store("Workshop batten", {}, {}, std::nullopt);
  } catch (const Error& error) {
    said = error.what();
  }
  if (administrator) {
    ASSERT_EQ(::seteuid(0), 0);
  }
  ASSERT_EQ(::chmod(folder.path().c_str(), 0755), 0);
  EXPECT_TRUE(contains(said, path)) << said;
  EXPECT_EQ(folder.files(), 1);
}

TEST_F(OpenTest, PathsWithSignsOfUrisWork) {
  const std::string odd = folder.file("50% ?mode=memory#1.db");
  Library::open(odd, Access::read_write).store("Stair candle", {}, {}, std::nullopt);
  EXPECT_EQ(Library::open(odd, Access::read_only).lamps().size(), 1U);
  EXPECT_EQ(folder.files(), 1);
}

TEST(DefaultPath, FollowsTheBaseDirectorySpecification) {
  const char* const home = std::getenv("HOME");
  const std::string kept = home != nullptr ? home : "";
  ::setenv("XDG_DATA_HOME", "/somewhere/data", 1);
  EXPECT_EQ(Library::default_path(), "/somewhere/data/lampload/library.db");
  ::setenv("HOME", "/boathouse", 1);
  ::setenv("XDG_DATA_HOME", "relative/is/ignored", 1);
  EXPECT_EQ(Library::default_path(), "/boathouse/.local/share/lampload/library.db");
  ::unsetenv("XDG_DATA_HOME");
  EXPECT_EQ(Library::default_path(), "/boathouse/.local/share/lampload/library.db");
  ::setenv("HOME", kept.c_str(), 1);
}

}  // namespace
}  // namespace lampload::library_open_test
