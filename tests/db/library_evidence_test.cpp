// What the library keeps beside captures and fits: comparisons with finished channels, and figures for looking through
// many lamps.

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <cmath>

#include "core/error.h"
#include "db/library.h"
#include "db/packing.h"
#include "tests/db/records.h"
#include "tests/db/temporary_folder.h"

namespace lampload::library_evidence_test {
namespace {

using test::pendant_capture;
using test::pendant_fit;

template <class Work>
Error error_of(Work work) {
  try {
    work();
  } catch (const Error& error) {
    return error;
  }
  return {ErrorCode::usage, "nothing was thrown"};
}

class LibraryEvidence : public ::testing::Test {
 protected:
  /// What a second program sees.
  [[nodiscard]] Library again() const { return Library::open(path, Library::Access::read_only); }
  [[nodiscard]] std::int64_t rows(const std::string& table) const {
    SQLite::Database db(path);
    return db.execAndGet("SELECT count(*) FROM " + table).getInt64();
  }

  test::TemporaryFolder folder;
  std::string path = folder.file("library.db");
  Library library = Library::open(path, Library::Access::read_write);
};

TEST_F(LibraryEvidence, ComparisonsComeBackWithTheirFit) {
  library.store("Stair candle", {}, {pendant_capture()}, pendant_fit());
  library.store_comparisons("Stair candle", {test::stair_comparison()});
  const LampRecord lamp = again().lamp("Stair candle");
  ASSERT_EQ(lamp.comparisons.size(), 1U);
  const StoredComparison& stored = lamp.comparisons[0];
  const StoredComparison given = test::stair_comparison();
  EXPECT_EQ(stored.fit_id, lamp.fit->id);
  EXPECT_EQ(stored.file, given.file);
  EXPECT_EQ(stored.sha256, given.sha256);
  EXPECT_EQ(stored.provenance.person, given.provenance.person);
  EXPECT_EQ(stored.provenance.time_utc, given.provenance.time_utc);
  EXPECT_EQ(stored.provenance.instrument, given.provenance.instrument);
  EXPECT_EQ(stored.provenance.program_version, given.provenance.program_version);
  const Comparison& made = stored.comparison;
  EXPECT_EQ(made.channel, "stair dimmer");
  EXPECT_EQ(made.mode, Mode::trailing_edge);
  EXPECT_EQ(made.count, 12);
  EXPECT_EQ(made.conduction_deg, given.comparison.conduction_deg);
  EXPECT_EQ(made.supply_v, given.comparison.supply_v);
  EXPECT_EQ(made.phase_deg, 90.0);
  ASSERT_EQ(made.figures.size(), 1U);
  EXPECT_FALSE(made.figures[0].limit);
  ASSERT_EQ(made.constraints.size(), 2U);
  EXPECT_EQ(made.constraints[1].name, "surge_peak");
  EXPECT_EQ(made.constraints[1].measured, 41.0);
  EXPECT_EQ(made.constraints[1].predicted, 30.0);
  EXPECT_EQ(made.constraints[1].lower, 25.0);
  EXPECT_EQ(made.constraints[1].upper, 36.0);
  EXPECT_EQ(made.constraints[1].limit, 45.0);
  EXPECT_FALSE(made.agrees());
}

TEST_F(LibraryEvidence, ACaptureComparedAgainTakesThePlaceOfTheFirst) {
  library.store("Stair candle", {}, {pendant_capture()}, pendant_fit());
  StoredComparison one = test::stair_comparison();
  library.store_comparisons("Stair candle", {one});
  one.comparison.constraints.pop_back();
  library.store_comparisons("Stair candle", {one});
  EXPECT_EQ(again().lamp("Stair candle").comparisons.size(), 1U);
  EXPECT_TRUE(again().lamp("Stair candle").comparisons[0].comparison.agrees());
  EXPECT_EQ(rows("comparison_values"), 2);
  one.comparison.count = 13;
  library.store_comparisons("Stair candle", {one});
  EXPECT_EQ(rows("comparisons"), 2);
  library.store("Stair candle", {}, {}, pendant_fit());
  library.store_comparisons("Stair candle", {one});
  EXPECT_EQ(rows("comparisons"), 3) << "of another fit";
  library.remove_lamp("Stair candle");
  EXPECT_EQ(rows("comparisons"), 0);
  EXPECT_EQ(rows("comparison_values"), 0);
}

TEST_F(LibraryEvidence, ComparisonsThatCannotBeKeptAreRefused) {
  library.store("Stair candle", {}, {pendant_capture()}, std::nullopt);
  const auto storing = [&](const std::string& lamp, const StoredComparison& one) {
    return error_of([&] { library.store_comparisons(lamp, {one}); });
  };
  EXPECT_EQ(storing("Stair candle", test::stair_comparison()).message(),
            "lamp 'Stair candle' has no fit to compare with");
  EXPECT_EQ(storing("Stair", test::stair_comparison()).code(), ErrorCode::not_found);
  library.store("Stair candle", {}, {}, pendant_fit());
  StoredComparison bad = test::stair_comparison();
  bad.comparison.constraints[0].measured = std::nan("");
  EXPECT_EQ(storing("Stair candle", bad).message(), "continuous_current of a comparison is not finite");
  EXPECT_EQ(rows("comparisons"), 0);
}

ScreeningFigures invented_figures() {
  ScreeningFigures figures;
  std::vector<double> values(figures.packed().size());
  for (std::size_t i = 0; i < values.size(); ++i) values[i] = 1.0 / (1.0 + static_cast<double>(i));
  figures = *ScreeningFigures::unpacked(values);
  figures.voltage_v = 230.0;
  figures.frequency_hz = 50.0;
  return figures;
}

TEST_F(LibraryEvidence, ScreeningIsThatOfTheNewestAcceptedFit) {
  StoredFit fit = pendant_fit();
  fit.screening = invented_figures();
  Nominal nominal;
  nominal.label_dimmable = false;
  library.store("Stair candle", nominal, {pendant_capture()}, fit);
  library.store("Boat rack", {}, {}, std::nullopt);
  const std::vector<LampScreening> list = again().screening();
  ASSERT_EQ(list.size(), 2U);
  EXPECT_EQ(list[0].lamp, "Boat rack");
  EXPECT_FALSE(list[0].figures());
  EXPECT_EQ(list[1].lamp, "Stair candle");
  EXPECT_EQ(list[1].family, "rectifier_capacitor");
  EXPECT_EQ(list[1].label_dimmable, false);
  const auto figures = list[1].figures();
  ASSERT_TRUE(figures);
  const std::vector<double> kept = figures->packed();
  const std::vector<double> given = invented_figures().packed();
  ASSERT_EQ(kept.size(), given.size());
  const double half_a_step = std::ldexp(1.0, -16);  // of 16 binary digits, at the lower end of a power of two
  for (std::size_t i = 0; i < kept.size(); ++i) EXPECT_NEAR(kept[i] / given[i], 1.0, half_a_step) << i;
  EXPECT_EQ(figures->frequency_hz, 50.0);

  fit.screening.reset();
  library.store("Stair candle", {}, {}, fit);
  EXPECT_FALSE(again().screening()[1].figures()) << "those of another fit do not stay";
  fit.screening = invented_figures();
  library.store("Stair candle", {}, {}, fit);
  fit.accepted = false;
  library.store("Stair candle", {}, {}, fit);
  EXPECT_FALSE(again().screening()[1].figures()) << "no family describes it now";
  EXPECT_EQ(rows("screening"), 0);
}

TEST_F(LibraryEvidence, FiguresOfAnotherVersionAreNotUsed) {
  StoredFit fit = pendant_fit();
  fit.screening = invented_figures();
  library.store("Stair candle", {}, {}, fit);
  {
    SQLite::Database db(path, SQLite::OPEN_READWRITE);
    const std::string shorter = packing::packed_screening(std::vector<double>(10));
    SQLite::Statement update(db, "UPDATE screening SET figures = ?");
    update.bind(1, shorter.data(), static_cast<int>(shorter.size()));
    update.exec();
  }
  EXPECT_FALSE(again().screening().at(0).figures());
  fit.screening->voltage_v = 230.0;
  fit.screening->most.any_phase.peak_a = std::nan("");
  EXPECT_EQ(error_of([&] { library.store("Stair candle", {}, {}, fit); }).message(),
            "a figure for screening is not finite");
}

}  // namespace
}  // namespace lampload::library_evidence_test
