#include "db/library.h"
#include "db/lamp_search.h"

#include <gtest/gtest.h>

#include <cmath>
#include <thread>

#include "core/error.h"
#include "db/schema.h"
#include "tests/db/records.h"
#include "tests/db/temporary_folder.h"

namespace lampload::library_test {
namespace {

using test::pendant_capture;
using test::pendant_fit;

/// The error that `work` throws, so that its parts can be looked at.
template <class Work>
Error error_of(Work work) {
  try {
    work();
  } catch (const Error& error) {
    return error;
  }
  return {ErrorCode::usage, "nothing was thrown"};
}

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

class LibraryTest : public ::testing::Test {
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

void expect_same(const Provenance& a, const Provenance& b) {
  EXPECT_EQ(a.person, b.person);
  EXPECT_EQ(a.time_utc, b.time_utc);
  EXPECT_EQ(a.instrument, b.instrument);
  EXPECT_EQ(a.program_version, b.program_version);
}

void expect_same(const std::vector<QualityNote>& a, const std::vector<QualityNote>& b) {
  ASSERT_EQ(a.size(), b.size());
  for (std::size_t i = 0; i < a.size(); ++i) {
    EXPECT_EQ(a[i].code, b[i].code);
    EXPECT_EQ(a[i].severity, b[i].severity);
    EXPECT_EQ(a[i].message, b[i].message);
  }
}

void expect_same(const Figures& a, const Figures& b) {
  EXPECT_EQ(a.samples, b.samples);
  EXPECT_EQ(a.sample_rate_hz, b.sample_rate_hz);
  EXPECT_EQ(a.duration_s, b.duration_s);
  EXPECT_EQ(a.mains_frequency_hz, b.mains_frequency_hz);
  EXPECT_EQ(a.voltage_rms_v, b.voltage_rms_v);
  EXPECT_EQ(a.current_rms_a, b.current_rms_a);
  EXPECT_EQ(a.current_peak_a, b.current_peak_a);
  EXPECT_EQ(a.active_power_w, b.active_power_w);
  EXPECT_EQ(a.apparent_power_va, b.apparent_power_va);
  EXPECT_EQ(a.power_factor, b.power_factor);
  EXPECT_EQ(a.displacement_factor, b.displacement_factor);
  EXPECT_EQ(a.current_crest_factor, b.current_crest_factor);
  EXPECT_EQ(a.current_thd_percent, b.current_thd_percent);
  EXPECT_EQ(a.cut.edge, b.cut.edge);
  EXPECT_EQ(a.cut.conduction_angle_deg, b.cut.conduction_angle_deg);
  EXPECT_EQ(a.cut.supply_side_voltage, b.cut.supply_side_voltage);
  ASSERT_EQ(a.direct.has_value(), b.direct.has_value());
  if (a.direct) {
    EXPECT_EQ(a.direct->voltage_mean_v, b.direct->voltage_mean_v);
    EXPECT_EQ(a.direct->current_mean_a, b.direct->current_mean_a);
    EXPECT_EQ(a.direct->on_voltage_v, b.direct->on_voltage_v);
    EXPECT_EQ(a.direct->on_current_a, b.direct->on_current_a);
    EXPECT_EQ(a.direct->voltage_ripple_percent, b.direct->voltage_ripple_percent);
    EXPECT_EQ(a.direct->current_ripple_percent, b.direct->current_ripple_percent);
    ASSERT_EQ(a.direct->pulses.has_value(), b.direct->pulses.has_value());
    if (a.direct->pulses) {
      EXPECT_EQ(a.direct->pulses->frequency_hz, b.direct->pulses->frequency_hz);
      EXPECT_EQ(a.direct->pulses->duty, b.direct->pulses->duty);
    }
  }
  ASSERT_EQ(a.turn_on.has_value(), b.turn_on.has_value());
  if (a.turn_on) {
    EXPECT_EQ(a.turn_on->sample, b.turn_on->sample);
    EXPECT_EQ(a.turn_on->phase_deg, b.turn_on->phase_deg);
    EXPECT_EQ(a.turn_on->supply_side_voltage, b.turn_on->supply_side_voltage);
  }
  ASSERT_EQ(a.inrush.has_value(), b.inrush.has_value());
  if (a.inrush) {
    EXPECT_EQ(a.inrush->peak_a, b.inrush->peak_a);
    EXPECT_EQ(a.inrush->i2t_a2s, b.inrush->i2t_a2s);
    EXPECT_EQ(a.inrush->width_s, b.inrush->width_s);
    EXPECT_EQ(a.inrush->phase_deg, b.inrush->phase_deg);
  }
  EXPECT_EQ(a.current_offset_a, b.current_offset_a);
  EXPECT_EQ(a.steady_first, b.steady_first);
  EXPECT_EQ(a.steady_last, b.steady_last);
  EXPECT_EQ(a.steady_phase_deg, b.steady_phase_deg);
  expect_same(a.quality, b.quality);
}

TEST_F(LibraryTest, ADcCaptureComesBackBitForBit) {
  StoredCapture steady = pendant_capture();
  steady.figures.mains_frequency_hz = std::nullopt;
  steady.figures.direct = Direct{23.9, 1.0 / 3.0, 24.1, 0.34, 1.0 / 7.0, 0.2, std::nullopt};
  library.store("Boathouse strip", {}, {steady}, std::nullopt);
  StoredCapture pulsed = pendant_capture();
  pulsed.figures.mains_frequency_hz = std::nullopt;
  pulsed.figures.direct = Direct{7.2, 0.1, 24.1, 0.34, std::nullopt, std::nullopt, Pulses{1000.1, 0.3}};
  library.store("Boathouse strip, dimmed", {}, {pulsed}, std::nullopt);
  expect_same(again().lamp("Boathouse strip", true).captures.at(0).figures, steady.figures);
  expect_same(again().lamp("Boathouse strip, dimmed", true).captures.at(0).figures, pulsed.figures);
  // the list shows what a dimmed lamp takes while it is fed
  const std::vector<LampSummary> listed = again().find({.words = "dimmed"}).lamps;
  ASSERT_EQ(listed.size(), 1U);
  EXPECT_DOUBLE_EQ(listed[0].power_w.value(), 24.1 * 0.34);
  EXPECT_DOUBLE_EQ(listed[0].voltage_rms_v.value(), 24.1);
}

TEST_F(LibraryTest, ACaptureComesBackBitForBit) {
  const StoredCapture stored = pendant_capture();
  library.store("Clubroom pendant", {}, {stored}, std::nullopt);
  const LampRecord lamp = again().lamp("Clubroom pendant", true);
  ASSERT_EQ(lamp.captures.size(), 1U);
  const StoredCapture& back = lamp.captures[0];
  EXPECT_GT(back.id, 0);
  EXPECT_EQ(back.capture.file, stored.capture.file);
  EXPECT_EQ(back.capture.start_time_s, stored.capture.start_time_s);
  EXPECT_EQ(back.capture.sample_interval_s, stored.capture.sample_interval_s);
  EXPECT_EQ(back.capture.voltage_v, stored.capture.voltage_v);
  EXPECT_EQ(back.capture.current_a, stored.capture.current_a);
  EXPECT_EQ(back.capture.voltage_step_v, stored.capture.voltage_step_v);
  EXPECT_EQ(back.capture.current_step_a, stored.capture.current_step_a);
  EXPECT_EQ(back.capture.clipped, stored.capture.clipped);
  EXPECT_EQ(back.sha256, stored.sha256);
  EXPECT_EQ(back.sample, "sample 1");
  EXPECT_EQ(back.options.time_column, stored.options.time_column);
  EXPECT_EQ(back.options.voltage_column, stored.options.voltage_column);
  EXPECT_EQ(back.options.current_column, stored.options.current_column);
  EXPECT_EQ(back.options.voltage_scale, stored.options.voltage_scale);
  EXPECT_EQ(back.options.current_scale, stored.options.current_scale);
  EXPECT_EQ(back.options.voltage_offset_v, stored.options.voltage_offset_v);
  EXPECT_EQ(back.options.current_offset_a, stored.options.current_offset_a);
  EXPECT_EQ(back.options.invert_current, stored.options.invert_current);
  EXPECT_EQ(back.options.current_delay_s, stored.options.current_delay_s);
  EXPECT_EQ(back.options.sample_interval_s, stored.options.sample_interval_s);
  expect_same(back.capture.notes, stored.capture.notes);
  expect_same(back.figures, stored.figures);
  expect_same(back.provenance, stored.provenance);
}

TEST_F(LibraryTest, ACaptureWithTheLeastSaidComesBack) {
  StoredCapture bare;
  bare.capture.sample_interval_s = 1e-6;
  bare.capture.voltage_v = {0.0};
  bare.capture.current_a = {-0.0};
  bare.sha256 = sha256_hex("");
  library.store("bare", {}, {bare}, std::nullopt);
  const StoredCapture back = library.lamp("bare", true).captures.at(0);
  EXPECT_TRUE(back.capture.clipped.empty());
  EXPECT_TRUE(std::signbit(back.capture.current_a.at(0)));
  EXPECT_FALSE(back.options.voltage_column.has_value());
  expect_same(back.figures, Figures{});
}

TEST_F(LibraryTest, SamplesStayOnDiskUnlessAskedFor) {
  library.store("Clubroom pendant", {}, {pendant_capture()}, std::nullopt);
  const StoredCapture back = library.lamp("Clubroom pendant").captures.at(0);
  EXPECT_TRUE(back.capture.voltage_v.empty());
  EXPECT_EQ(back.figures.samples, 2000U);
}

TEST_F(LibraryTest, AFitComesBackBitForBit) {
  const StoredFit stored = pendant_fit();
  library.store("Clubroom pendant", {}, {pendant_capture()}, stored);
  const LampRecord lamp = again().lamp("Clubroom pendant");
  ASSERT_TRUE(lamp.fit.has_value());
  const StoredFit& back = *lamp.fit;
  EXPECT_EQ(back.accepted, stored.accepted);
  EXPECT_EQ(back.verdict, stored.verdict);
  EXPECT_EQ(back.family, stored.family);
  EXPECT_EQ(back.load_law, stored.load_law);
  const auto expect_estimates = [](const std::vector<StoredEstimate>& a, const std::vector<StoredEstimate>& b) {
    ASSERT_EQ(a.size(), b.size());
    for (std::size_t i = 0; i < a.size(); ++i) {
      EXPECT_EQ(a[i].name, b[i].name);
      EXPECT_EQ(a[i].unit, b[i].unit);
      EXPECT_EQ(a[i].value, b[i].value);
      EXPECT_EQ(a[i].standard_uncertainty, b[i].standard_uncertainty);
      EXPECT_EQ(a[i].lower_95, b[i].lower_95);
      EXPECT_EQ(a[i].upper_95, b[i].upper_95);
      EXPECT_EQ(a[i].identified, b[i].identified);
      EXPECT_EQ(a[i].remark, b[i].remark);
    }
  };
  expect_estimates(back.parameters, stored.parameters);
  expect_estimates(back.derived, stored.derived);
  EXPECT_EQ(back.covariance, stored.covariance);
  EXPECT_EQ(back.residual_rms_a, stored.residual_rms_a);
  EXPECT_EQ(back.normalised_residual, stored.normalised_residual);
  ASSERT_EQ(back.rivals.size(), 2U);
  EXPECT_EQ(back.rivals[0].family, "capacitive_dropper");
  EXPECT_EQ(back.rivals[1].distance, 900.0);
  EXPECT_EQ(back.next_capture, stored.next_capture);
  EXPECT_EQ(back.next_narrows, stored.next_narrows);
  EXPECT_EQ(back.next_sentence, stored.next_sentence);
  EXPECT_EQ(back.report, stored.report);
  EXPECT_EQ(back.seed, stored.seed);
  EXPECT_EQ(back.capture_ids, std::vector<std::int64_t>{lamp.captures[0].id});
  expect_same(back.provenance, stored.provenance);
}

TEST_F(LibraryTest, ADcTableIsKeptUntilAnotherTakesItsPlace) {
  Nominal nominal;
  nominal.dc_points = {{0.5, 0.0082, 1e-5}, {-230.0, -0.261, {}}, {1.0 / 3.0, 1e-300, {}}};
  library.store("Clubroom pendant", nominal, {}, std::nullopt);
  library.store("Clubroom pendant", {}, {}, std::nullopt);
  const std::vector<DcPoint> back = again().lamp("Clubroom pendant").nominal.dc_points;
  ASSERT_EQ(back.size(), 3U);
  for (std::size_t i = 0; i < back.size(); ++i) {
    EXPECT_EQ(back[i].voltage_v, nominal.dc_points[i].voltage_v);
    EXPECT_EQ(back[i].current_a, nominal.dc_points[i].current_a);
    EXPECT_EQ(back[i].uncertainty_a, nominal.dc_points[i].uncertainty_a);
  }
  nominal.dc_points = {{12.0, 0.08, {}}};
  library.store("Clubroom pendant", nominal, {}, std::nullopt);
  EXPECT_EQ(again().lamp("Clubroom pendant").nominal.dc_points.size(), 1U);
  library.remove_lamp("Clubroom pendant");
  EXPECT_EQ(rows("dc_points"), 0);
}

TEST_F(LibraryTest, ADcTableThatIsNotFiniteChangesNothing) {
  Nominal nominal;
  nominal.dc_points = {{12.0, 0.08, {}}};
  library.store("Clubroom pendant", nominal, {}, std::nullopt);
  nominal.dc_points = {{12.0, 0.09, {}}, {24.0, std::nan(""), {}}};
  EXPECT_EQ(error_of([&] { library.store("Clubroom pendant", nominal, {}, std::nullopt); }).code(),
            ErrorCode::input_refused);
  EXPECT_EQ(library.lamp("Clubroom pendant").nominal.dc_points.at(0).current_a, 0.08);
}

TEST_F(LibraryTest, TheNewestFitIsShownAndOlderOnesAreKept) {
  StoredFit fit = pendant_fit();
  library.store("Clubroom pendant", {}, {pendant_capture()}, fit);
  const std::int64_t capture = library.lamp("Clubroom pendant").captures.at(0).id;
  fit.verdict = "made again";
  fit.capture_ids = {capture};
  library.store("Clubroom pendant", {}, {}, fit);
  const LampRecord lamp = library.lamp("Clubroom pendant");
  EXPECT_EQ(lamp.fit->verdict, "made again");
  EXPECT_EQ(lamp.fit->capture_ids, std::vector<std::int64_t>{capture});
  EXPECT_EQ(lamp.fits, 2);
  EXPECT_EQ(rows("fit_captures"), 2);
}

TEST_F(LibraryTest, AFitNamesAllCapturesItUsed) {
  library.store("Clubroom pendant", {}, {pendant_capture("a.csv")}, std::nullopt);
  StoredFit fit = pendant_fit();
  fit.capture_ids = {library.lamp("Clubroom pendant").captures.at(0).id};
  library.store("Clubroom pendant", {}, {pendant_capture("b.csv")}, fit);
  EXPECT_EQ(library.lamp("Clubroom pendant").fit->capture_ids.size(), 2U);
}

TEST_F(LibraryTest, TheSameRecordingIsNotStoredTwice) {
  library.store("Clubroom pendant", {}, {pendant_capture()}, std::nullopt);
  library.store("Clubroom pendant", {}, {pendant_capture(), pendant_capture()}, pendant_fit());
  EXPECT_EQ(library.lamp("Clubroom pendant").captures.size(), 1U);
  EXPECT_EQ(library.lamp("Clubroom pendant").fit->capture_ids.size(), 1U);
  library.store("Stair candle", {}, {pendant_capture()}, std::nullopt);
  EXPECT_EQ(rows("captures"), 2);
}

TEST_F(LibraryTest, ANewReadingOfARecordingTakesTheOldOnesPlace) {
  library.store("Clubroom pendant", {}, {pendant_capture()}, std::nullopt);
  const std::int64_t id = library.lamp("Clubroom pendant").captures.at(0).id;
  StoredCapture corrected = pendant_capture();
  corrected.options.current_scale = 1.0;
  corrected.figures.active_power_w = 163.0;
  library.store("Clubroom pendant", {}, {corrected}, std::nullopt);
  const LampRecord lamp = library.lamp("Clubroom pendant");
  ASSERT_EQ(lamp.captures.size(), 1U);
  EXPECT_EQ(lamp.captures[0].id, id);
  EXPECT_EQ(lamp.captures[0].options.current_scale, 1.0);
  EXPECT_EQ(library.lamps().at(0).power_w, 163.0);
}

TEST_F(LibraryTest, AnotherColumnOfTheSameFileIsAnotherCapture) {
  StoredCapture other = pendant_capture();
  other.options.current_column = "4";
  library.store("Clubroom pendant", {}, {pendant_capture(), other}, std::nullopt);
  EXPECT_EQ(library.lamp("Clubroom pendant").captures.size(), 2U);
}

TEST_F(LibraryTest, CapturesBelongToSamples) {
  StoredCapture second = pendant_capture("second.csv");
  second.sample = "from the spare box";
  library.store("Clubroom pendant", {}, {pendant_capture(), second}, std::nullopt);
  EXPECT_EQ(library.lamp("Clubroom pendant").captures.at(1).sample, "from the spare box");
  EXPECT_EQ(rows("samples"), 2);
}

TEST_F(LibraryTest, ARecordingMovesToTheSampleThatIsNamed) {
  library.store("Clubroom pendant", {}, {pendant_capture()}, std::nullopt);
  StoredCapture moved = pendant_capture();
  moved.sample = "from the spare box";
  library.store("Clubroom pendant", {}, {moved}, std::nullopt);
  library.store("Clubroom pendant", {}, {pendant_capture()}, std::nullopt);  // says nothing of a sample
  const LampRecord lamp = library.lamp("Clubroom pendant");
  ASSERT_EQ(lamp.captures.size(), 1U);
  EXPECT_EQ(lamp.captures[0].sample, "from the spare box");
}

TEST_F(LibraryTest, ATypesFitComesBackWithThoseOfItsSamples) {
  StoredCapture first = pendant_capture("first.csv");
  first.sample = "one";
  StoredCapture second = pendant_capture("second.csv");
  second.sample = "two";
  StoredFit type = pendant_fit();
  type.spread_source = "mixture";
  type.load_spreads = {{"surge_peak", true, 2, 0.045, 0.02, 0.13, 1.0 / 3.0, 0.75}};
  type.parameter_spreads = {{"rectifier_drop_v", false, 2, 0.04, 0.02, 0.12, 0.0, 0.8}};
  type.derived_spreads = {{"rated_power_w", true, 2, 0.05, 0.03, 0.14, 0.01, 0.7}};
  for (const char* label : {"one", "two"}) {
    type.samples.push_back(pendant_fit());
    type.samples.back().sample = label;
  }
  type.samples[1].parameters[0].value = 9.1;
  library.store("Clubroom pendant", {}, {first, second}, type);
  const LampRecord lamp = again().lamp("Clubroom pendant");
  EXPECT_EQ(lamp.fits, 1);
  ASSERT_TRUE(lamp.fit);
  EXPECT_EQ(lamp.fit->sample, "");
  EXPECT_EQ(lamp.fit->spread_source, "mixture");
  EXPECT_EQ(lamp.fit->capture_ids.size(), 2U);
  ASSERT_EQ(lamp.fit->samples.size(), 2U);
  EXPECT_EQ(lamp.fit->samples[1].sample, "two");
  EXPECT_EQ(lamp.fit->samples[1].parameters[0].value, 9.1);
  EXPECT_EQ(lamp.fit->samples[1].covariance, type.covariance);
  EXPECT_EQ(lamp.fit->samples[1].capture_ids, std::vector<std::int64_t>{lamp.captures[1].id});
  ASSERT_EQ(lamp.fit->load_spreads.size(), 1U);
  const StoredSpread& load = lamp.fit->load_spreads[0];
  EXPECT_EQ(load.name, "surge_peak");
  EXPECT_EQ(load.samples, 2);
  EXPECT_EQ(load.spread, 0.045);
  EXPECT_EQ(load.measured, 1.0 / 3.0);
  EXPECT_EQ(load.usual_share, 0.75);
  EXPECT_FALSE(lamp.fit->parameter_spreads.at(0).relative);
  EXPECT_EQ(lamp.fit->derived_spreads.at(0).upper_95, 0.14);
  // A sample's fit is not taken for the type's.
  EXPECT_EQ(library.lamps().at(0).fits, 1);
  library.remove_lamp("Clubroom pendant");
  EXPECT_EQ(rows("fits"), 0);
  EXPECT_EQ(rows("fit_spreads"), 0);
}

TEST_F(LibraryTest, ASpreadMustBeANumber) {
  StoredFit fit = pendant_fit();
  fit.load_spreads = {{"surge_peak", true, 2, std::numeric_limits<double>::infinity(), 0.0, 1.0, 0.0, 0.5}};
  EXPECT_THROW(library.store("Clubroom pendant", {}, {pendant_capture()}, fit), Error);
}

TEST_F(LibraryTest, NominalValuesAreKeptUntilOthersAreGiven) {
  Nominal first;
  first.voltage_v = 230.0;
  first.rated_power_w = 5.0;
  first.label_dimmable = false;
  Nominal second;
  second.frequency_hz = 0.0;
  second.rated_power_w = 4.5;
  second.cold_resistance_ohm = 40.0;
  library.store("Stair candle", first, {}, std::nullopt);
  library.store("Stair candle", second, {}, std::nullopt);
  const Nominal nominal = library.lamp("Stair candle").nominal;
  EXPECT_EQ(nominal.voltage_v, 230.0);
  EXPECT_EQ(nominal.frequency_hz, 0.0);
  EXPECT_EQ(nominal.rated_power_w, 4.5);
  EXPECT_EQ(nominal.cold_resistance_ohm, 40.0);
  EXPECT_EQ(nominal.label_dimmable, false);
}

TEST_F(LibraryTest, TheListShowsTheNewestAcceptedFitAndTheLeastCutCapture) {
  StoredCapture uncut = pendant_capture("uncut.csv");
  uncut.figures.cut = {};
  uncut.figures.turn_on.reset();
  uncut.figures.active_power_w = 20.5;
  StoredFit refused = pendant_fit();
  refused.accepted = false;
  refused.family = "resistor";
  library.store("Clubroom pendant", {}, {uncut, pendant_capture("cut.csv")}, pendant_fit());
  library.store("Clubroom pendant", {}, {}, refused);
  library.store("Boat rack strip", {}, {}, std::nullopt);
  const std::vector<LampSummary> lamps = again().lamps();
  ASSERT_EQ(lamps.size(), 2U);
  EXPECT_EQ(lamps[0].name, "Boat rack strip");
  EXPECT_EQ(lamps[0].family, "");
  EXPECT_FALSE(lamps[0].power_w.has_value());
  EXPECT_EQ(lamps[0].captures, 0);
  EXPECT_EQ(lamps[1].family, "rectifier_capacitor");
  EXPECT_EQ(lamps[1].load_law, "load_power_w");
  EXPECT_EQ(lamps[1].power_w, 20.5);
  EXPECT_EQ(lamps[1].voltage_rms_v, 230.1);
  EXPECT_EQ(lamps[1].captures, 2);
  EXPECT_EQ(lamps[1].fits, 2);
  EXPECT_EQ(lamps[1].time_utc.size(), 20U);
}

TEST_F(LibraryTest, TheListIsSearchedByPartOfTheName) {
  for (const char* name : {"Stair candle", "Stair strip", "100% cotton_shade", "50 W flood"}) {
    library.store(name, {}, {}, std::nullopt);
  }
  EXPECT_EQ(library.find({.words = "STAIR"}).lamps.size(), 2U);
  EXPECT_EQ(library.find({.words = "%"}).lamps.size(), 1U);
  EXPECT_EQ(library.find({.words = "_"}).lamps.size(), 1U);
  EXPECT_EQ(library.find({.words = "\\"}).lamps.size(), 0U);
  const auto refusal = [&](const std::string& words) {
    return error_of([&] { (void)library.find({.words = words}); }).message();
  };
  EXPECT_EQ(refusal(std::string(100000, 'x')), "a word of more than 1000 bytes is looked for");
  std::string many;
  for (int i = 0; i < 1500; ++i) many += "stair ";
  EXPECT_EQ(refusal(many), "1500 words are looked for, more than 100");
}

TEST_F(LibraryTest, NamesAreOnlyNames) {
  const std::vector<std::string> names = {
      "Robert'); DROP TABLE lamp_types;--", "\"quoted\"", "Bootshaus-Lüster", "灯", "50 % dimmed", "a\\b"};
  for (const std::string& name : names) library.store(name, {}, {}, std::nullopt);
  EXPECT_EQ(again().lamps().size(), names.size());
  for (const std::string& name : names) {
    EXPECT_EQ(library.lamp(name).name, name);
    library.remove_lamp(name);
  }
  EXPECT_TRUE(library.lamps().empty());
}

TEST_F(LibraryTest, NamesThatAreNoneAreRefused) {
  for (const std::string& name : {std::string(), std::string(201, 'x'), std::string("two\nlines")}) {
    const Error error = error_of([&] { library.store(name, {}, {}, std::nullopt); });
    EXPECT_EQ(error.code(), ErrorCode::input_refused);
    EXPECT_TRUE(contains(error.what(), "the name of a lamp")) << error.what();
  }
}

TEST_F(LibraryTest, AnUnknownNameGetsTheNearestOnes) {
  const Error empty = error_of([&] { (void)library.lamp("Stair candle"); });
  EXPECT_EQ(empty.code(), ErrorCode::not_found);
  EXPECT_TRUE(contains(empty.what(), "it holds no lamp yet")) << empty.what();
  library.store("Stair candle", {}, {}, std::nullopt);
  library.store("Workshop batten", {}, {}, std::nullopt);
  for (const auto& ask :
       {+[](Library& l) { (void)l.lamp("Stair candel"); }, +[](Library& l) { l.remove_lamp("Stair candel"); }}) {
    const Error error = error_of([&] { ask(library); });
    EXPECT_EQ(error.code(), ErrorCode::not_found);
    EXPECT_TRUE(contains(error.what(), path)) << error.what();
    EXPECT_TRUE(contains(error.what(), "no lamp 'Stair candel' in the library; the nearest is 'Stair candle'"))
        << error.what();
  }
}

TEST_F(LibraryTest, RemovingALampRemovesAllOfIt) {
  library.store("Clubroom pendant", {}, {pendant_capture("a.csv"), pendant_capture("b.csv")}, pendant_fit());
  library.store("Stair candle", {}, {pendant_capture("a.csv")}, pendant_fit());
  library.remove_lamp("Clubroom pendant");
  EXPECT_EQ(rows("lamp_types"), 1);
  EXPECT_EQ(rows("samples"), 1);
  EXPECT_EQ(rows("captures"), 1);
  EXPECT_EQ(rows("fits"), 1);
  EXPECT_EQ(rows("fit_rivals"), 2);
  EXPECT_EQ(rows("fit_captures"), 1);
}

TEST_F(LibraryTest, ARefusedStoreLeavesNothingBehind) {
  library.store("Stair candle", {}, {}, std::nullopt);
  StoredFit fit = pendant_fit();
  fit.derived[0].value = std::nan("");
  const Error error = error_of([&] { library.store("Clubroom pendant", {}, {pendant_capture()}, fit); });
  EXPECT_EQ(error.code(), ErrorCode::input_refused);
  EXPECT_TRUE(contains(error.what(), "rated_power_w of the fit is not a finite number")) << error.what();
  EXPECT_EQ(rows("lamp_types"), 1);
  EXPECT_EQ(rows("captures"), 0);
  library.store("Clubroom pendant", {}, {pendant_capture()}, pendant_fit());
  EXPECT_EQ(rows("captures"), 1);
}

TEST_F(LibraryTest, WhatIsNoCaptureIsRefused) {
  const auto refused = [&](auto change) {
    StoredCapture stored = pendant_capture();
    change(stored);
    return error_of([&] { library.store("Clubroom pendant", {}, {stored}, std::nullopt); });
  };
  EXPECT_TRUE(contains(refused([](StoredCapture& s) { s.capture.current_a.pop_back(); }).what(),
                       "clubroom_steady.csv: 2000 voltage and 1999 current samples"));
  EXPECT_TRUE(contains(refused([](StoredCapture& s) { s.capture.clipped.pop_back(); }).what(), "1999 clipping marks"));
  EXPECT_TRUE(contains(refused([](StoredCapture& s) { s.capture.voltage_v[5] = INFINITY; }).what(), "not a finite"));
  EXPECT_TRUE(contains(refused([](StoredCapture& s) { s.figures.inrush->peak_a = NAN; }).what(), "peak_a"));
  EXPECT_TRUE(contains(refused([](StoredCapture& s) { s.sha256 = ""; }).what(), "digest"));
  EXPECT_EQ(refused([](StoredCapture& s) { s.capture.sample_interval_s = 0.0; }).code(), ErrorCode::library);
}

TEST_F(LibraryTest, AFitOfAnotherLampsCaptureIsRefused) {
  library.store("Stair candle", {}, {pendant_capture()}, std::nullopt);
  StoredFit fit = pendant_fit();
  fit.capture_ids = {library.lamp("Stair candle").captures.at(0).id};
  const Error error = error_of([&] { library.store("Clubroom pendant", {}, {}, fit); });
  EXPECT_EQ(error.code(), ErrorCode::input_refused);
  EXPECT_TRUE(contains(error.what(), "which this lamp does not have")) << error.what();
}

TEST_F(LibraryTest, ChannelsAreReplacedByName) {
  Channel channel;
  channel.name = "Stair";
  channel.output.edges = {Edge::trailing};
  channel.output.rated_current_a = 2.0;
  library.store_channel(channel);
  channel.output.rated_current_a = 1.0 / 3.0;
  channel.breaker = Breaker{'C', 10.0};
  library.store_channel(channel);
  ASSERT_EQ(again().channels().size(), 1U);
  const Channel back = again().channel("Stair");
  EXPECT_EQ(back.output.rated_current_a, 1.0 / 3.0);
  EXPECT_EQ(back.output.edges, std::vector<Edge>{Edge::trailing});
  EXPECT_EQ(back.breaker->curve, 'C');
  EXPECT_FALSE(back.cable.has_value());
  const Error error = error_of([&] { (void)library.channel("Stairs"); });
  EXPECT_EQ(error.code(), ErrorCode::not_found);
  EXPECT_TRUE(contains(error.what(), "no channel 'Stairs' in the library; the nearest is 'Stair'")) << error.what();
  library.remove_channel("Stair");
  EXPECT_EQ(error_of([&] { library.remove_channel("Stair"); }).code(), ErrorCode::not_found);
  EXPECT_TRUE(library.channels().empty());
}

TEST_F(LibraryTest, AChannelThatCannotBeIsNotStored) {
  Channel channel;
  channel.name = "Stair";
  channel.output.edges = {Edge::leading};
  channel.output.rated_current_a = -1.0;
  EXPECT_EQ(error_of([&] { library.store_channel(channel); }).code(), ErrorCode::input_refused);
  EXPECT_TRUE(library.channels().empty());
}

TEST_F(LibraryTest, ASecondWriterWaitsForTheFirst) {
  Library other = Library::open(path, Library::Access::read_write);
  SQLite::Database holder(path, SQLite::OPEN_READWRITE);
  holder.exec("BEGIN IMMEDIATE");
  std::thread writer([&] { other.store("Stair candle", {}, {pendant_capture()}, std::nullopt); });
  std::this_thread::sleep_for(std::chrono::milliseconds(100));
  EXPECT_TRUE(library.lamps().empty()) << "readers go on meanwhile";
  holder.exec("COMMIT");
  writer.join();
  EXPECT_EQ(library.lamps().size(), 1U);
}

TEST_F(LibraryTest, EstimatesWithoutMeaningAreRefused) {
  const std::pair<StoredEstimate, const char*> wrong[] = {
      {{"", "Ohm", 8.2, 0.1, 8.0, 8.4, true, ""}, "an estimate of the fit has no name"},
      {{"resistance_ohm", "Ohm", 8.2, -0.1, 8.0, 8.4, true, ""}, "the uncertainty -0.1"},
      {{"resistance_ohm", "Ohm", 8.2, 0.1, 8.4, 8.0, true, ""}, "the interval 8.4 to 8"},
      {{"resistance_ohm", "Ohm", 8.2, 0.1, 8.0, HUGE_VAL, true, ""}, "is not a finite number"}};
  for (const auto& [estimate, told] : wrong) {
    StoredFit fit = pendant_fit();
    fit.derived[0] = estimate;
    EXPECT_TRUE(contains(error_of([&] { library.store("Clubroom pendant", {}, {}, fit); }).what(), told)) << told;
  }
}

TEST_F(LibraryTest, TablesRefuseWhatHasNoMeaning) {
  library.store("Clubroom pendant", {}, {pendant_capture()}, pendant_fit());
  SQLite::Database db(path, SQLite::OPEN_READWRITE);
  db.exec("PRAGMA foreign_keys = ON");
  for (const char* wrong : {
           "UPDATE captures SET sample_interval_s = 'fast'",
           "UPDATE captures SET sample_interval_s = 0.0",
           "UPDATE captures SET codec = 'plain'",
           "UPDATE captures SET figures = '{'",
           "UPDATE captures SET sample_id = 99",
           "UPDATE fits SET accepted = 2",
           "UPDATE fits SET lamp_type_id = 99",
           "UPDATE fits SET residual_rms_a = NULL",
           "UPDATE lamp_types SET rated_power_w = -5.0",
           "UPDATE lamp_types SET name = ''",
           "UPDATE lamp_types SET label_dimmable = 2",
       }) {
    EXPECT_THROW(db.exec(wrong), SQLite::Exception) << wrong;
  }
}

}  // namespace
}  // namespace lampload::library_test
