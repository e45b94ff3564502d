// Libraries as programs with each schema version left them: opened, brought up to date, checked, and read back.

#include <gtest/gtest.h>
#include <zstd.h>

#include <string>
#include <vector>

#include "db/library.h"
#include "db/schema.h"
#include "db/upkeep.h"
#include "tests/db/temporary_folder.h"
#include "tests/places.h"

namespace lampload::golden_test {
namespace {

std::string unpacked_file(const std::string& path) {
  const std::string frame = test::bytes_of(path);
  const auto size = ZSTD_getFrameContentSize(frame.data(), frame.size());
  if (frame.empty() || size > 4U << 20U) return {};
  std::string bytes(size, '\0');
  return ZSTD_decompress(bytes.data(), bytes.size(), frame.data(), frame.size()) == size ? bytes : "";
}

class GoldenLibrary : public ::testing::TestWithParam<int> {};

// tests/db/golden/make_libraries says what is in them: two captures of sine waves of 230 V on 500 and 880 Ohm.
TEST_P(GoldenLibrary, IsReadWhole) {
  const int version = GetParam();
  const test::TemporaryFolder folder;
  const std::string path = folder.file("library.db");
  const std::string bytes =
      unpacked_file(test::source_folder() + "/tests/db/golden/library_" + std::to_string(version) + ".db.zst");
  ASSERT_FALSE(bytes.empty());
  test::write_bytes(path, bytes);
  {
    SQLite::Database db(path);
    ASSERT_EQ(db.execAndGet("PRAGMA user_version").getInt(), version);
  }

  EXPECT_EQ(check_library(path).faults, std::vector<std::string>{});
  EXPECT_EQ(test::bytes_of(path), bytes) << "looked at only";
  Library library = Library::open(path, Library::Access::read_write);
  const bool older = version < Library::schema_version();
  EXPECT_EQ(std::filesystem::exists(path + ".schema-" + std::to_string(version) + ".backup"), older);
  const LibraryCheck found = check_library(path);
  EXPECT_EQ(found.faults, std::vector<std::string>{});
  const bool receives = version >= 7;
  EXPECT_EQ(found.lamps, receives ? 3U : 2U);
  EXPECT_EQ(found.captures, receives ? 3U : 2U);
  EXPECT_EQ(found.channels, 1U);

  const LampRecord batten = library.lamp("workshop batten, simulated", true);
  EXPECT_EQ(batten.notes, "invented, simulated");
  ASSERT_EQ(batten.captures.size(), 1U);
  const StoredCapture& capture = batten.captures[0];
  ASSERT_EQ(capture.capture.voltage_v.size(), 1200U);
  EXPECT_NEAR(capture.capture.voltage_v[50], 325.27, 1e-9) << "the crest, as the file has it";
  EXPECT_NEAR(capture.figures.voltage_rms_v, 230.0, 0.01) << "325.27 V over the root of two";
  EXPECT_EQ(capture.provenance.time_utc, "2024-02-29T12:00:00Z");
  ASSERT_TRUE(batten.fit);
  EXPECT_EQ(batten.fit->family, "resistor");
  ASSERT_EQ(batten.fit->parameters.size(), 1U);
  const StoredEstimate& resistance = batten.fit->parameters[0];
  EXPECT_EQ(resistance.name + resistance.unit, "resistance_ohmOhm");
  EXPECT_NEAR(resistance.value, 500.0, 1.0);
  EXPECT_GT(resistance.standard_uncertainty, 0.0);
  EXPECT_LT(resistance.lower_95, resistance.value);
  EXPECT_GT(resistance.upper_95, resistance.value);
  EXPECT_TRUE(resistance.identified);
  ASSERT_FALSE(batten.fit->derived.empty());
  EXPECT_EQ(batten.fit->derived[0].name, "rated_power_w");
  EXPECT_NEAR(batten.fit->derived[0].value, 230.0 * 230.0 / 500.0, 0.3);
  EXPECT_EQ(batten.fit->covariance.size(), 1U);
  EXPECT_EQ(batten.fit->report.empty(), version < 2);
  EXPECT_EQ(batten.fit->report.starts_with(R"({"blocks":)"), version >= 2);
  EXPECT_EQ(batten.comparisons.size(), version >= 5 ? 1U : 0U);
  EXPECT_EQ(library.channels().at(0).name, "boathouse_mosfet_neutral");
  if (receives) {
    EXPECT_EQ(library.lamp("stair candle, simulated").origin->licence, "CC0-1.0");
    EXPECT_FALSE(library.received_record("stair candle, simulated").empty());
  }
  for (const LampScreening& lamp : library.screening()) {
    const bool fitted = lamp.lamp.starts_with("workshop") || lamp.lamp.starts_with("stair");
    const auto figures = lamp.figures();
    ASSERT_EQ(figures.has_value(), fitted && version >= 6) << lamp.lamp;
    if (figures && lamp.lamp.starts_with("workshop")) {
      EXPECT_NEAR(figures->nominal.leading.back().rms_a, 230.0 / 500.0, 0.005);
    }
  }
}

INSTANTIATE_TEST_SUITE_P(EverySchema, GoldenLibrary, ::testing::Range(1, Library::schema_version() + 1));

}  // namespace
}  // namespace lampload::golden_test
