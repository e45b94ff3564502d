// --report of fit and show: nothing of it without the option, the same from the fit and from the store.

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include <SQLiteCpp/SQLiteCpp.h>
#include <nlohmann/json.hpp>

#include "db/packing.h"
#include "json_keys.h"
#include "program.h"
#include "tests/places.h"

namespace lampload::test::fit_report_test {
namespace {

using Json = nlohmann::ordered_json;

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

class FitReportCommand : public testing::Test {
 protected:
  void SetUp() override {
    const std::string pendant = test::samples_folder() + "simulated_clubroom_pendant_60w/steady.csv";
    ASSERT_EQ(place.run({"import", pendant, "--lamp", "pendant"}).status, 0);
  }
  /// The library's one fit as it is, with another report text.
  void overwrite_report(const std::string& text) {
    SQLite::Database db(place.path("data/lampload/library.db").string(), SQLite::OPEN_READWRITE);
    SQLite::Statement update(db, "UPDATE fits SET report = ?");
    const std::string frame = packing::packed_report(text);
    update.bind(1, frame.data(), static_cast<int>(frame.size()));
    ASSERT_EQ(update.exec(), 1);
  }

  Workplace place;
};

TEST_F(FitReportCommand, KeysAreThoseOfTheManual) {
  const Json fit = Json::parse(place.run({"fit", "pendant", "--report", "--json"}).out)["fit"];
  const Json& report = fit["report"];
  EXPECT_EQ(keys(report),
            (Keys{"blocks", "unknowns", "residual_autocorrelation", "correlation_length_blocks", "repetition",
                  "bandwidth_hz", "captures", "observations", "held", "families", "correlations"}));
  for (const Json& capture : report["captures"]) {
    EXPECT_EQ(keys(capture), (Keys{"file", "blocks", "current_offset_a", "current_delay_s", "residual_rms_a"}));
  }
  EXPECT_FALSE(report["held"].empty());
  for (const Json& held : report["held"]) {
    EXPECT_EQ(keys(held), (Keys{"parameter", "reason", "gain", "worth", "sentence"}));
    EXPECT_TRUE(fit["parameters"].contains(held["parameter"]));
  }
  for (const Json& family : report["families"]) {
    EXPECT_EQ(keys(family), (Keys{"family", "load_law", "outcome", "distance", "starts"}));
    for (const Json& start : family["starts"]) {
      EXPECT_EQ(keys(start), (Keys{"misfit", "ended", "plausible", "parameters"}));
    }
  }
}

// A resistance, uncut for six cycles and then behind a leading edge for six more.
TEST_F(FitReportCommand, ARecordWithTwoSettingsCountsAsTwoCaptures) {
  std::string text = "time_s,voltage_v,current_a\n";
  for (int k = 0; k < 4800; ++k) {
    const double angle = 2.0 * std::numbers::pi * (k % 400) / 400.0;
    const bool conducts = k < 2400 || std::fmod(angle, std::numbers::pi) >= 0.5 * std::numbers::pi;
    const double volts = conducts ? 325.0 * std::sin(angle) : 0.0;
    text += std::to_string(k * 5e-5) + "," + std::to_string(3.125 * std::round(volts / 3.125)) + "," +
            std::to_string(0.0078125 * std::round(volts / 500.0 / 0.0078125)) + "\n";
  }
  place.write("turned.csv", text);
  ASSERT_EQ(place.run({"import", "turned.csv", "--lamp", "kettle"}).status, 0);
  const Json fit = Json::parse(place.run({"fit", "kettle", "--report", "--json"}).out)["fit"];
  EXPECT_EQ(fit["family"], "resistor");
  const Json& captures = fit["report"]["captures"];
  ASSERT_EQ(captures.size(), 2U);
  EXPECT_EQ(captures[0]["file"], "turned.csv (0 to 0.12 s)");
  EXPECT_EQ(captures[1]["file"], "turned.csv (0.12 to 0.24 s)");
}

TEST_F(FitReportCommand, SteadyStateTellsTheHotResistanceAndNotTheColdOne) {
  const Json fit = Json::parse(place.run({"fit", "pendant", "--report", "--json"}).out)["fit"];
  ASSERT_EQ(fit["family"], "filament");
  // The hot resistance is known far better than the cold one that it is computed from: only a correlation near one
  // between cold resistance and radiated power (temperature) can do that (first-order propagation, JCGM 100). It is not
  // known better than the scale errors of voltage (0.5 %) and current (1 %) allow.
  const auto relative = [](const Json& one) {
    return one["standard_uncertainty"].get<double>() / one["value"].get<double>();
  };
  ASSERT_LT(relative(fit["derived"]["hot_resistance_ohm"]), 0.25 * relative(fit["parameters"]["cold_resistance_ohm"]));
  bool found = false;
  for (const Json& pair : fit["report"]["correlations"]) {
    EXPECT_EQ(keys(pair), (Keys{"parameters", "correlation"}));
    EXPECT_GT(std::abs(pair["correlation"].get<double>()), 0.9);
    EXPECT_LE(std::abs(pair["correlation"].get<double>()), 1.0 + 1e-9);
    found = found || pair["parameters"] == Json({"cold_resistance_ohm", "radiation_w_per_k4"});
  }
  EXPECT_TRUE(found) << fit["report"]["correlations"];
}

TEST_F(FitReportCommand, TheStoreTellsTheSameAsTheFit) {
  const Json fitted = Json::parse(place.run({"fit", "pendant", "--report", "--json"}).out);
  const Json shown = Json::parse(place.run({"show", "pendant", "--report", "--json"}).out);
  EXPECT_EQ(fitted["fit"]["report"], shown["fit"]["report"]);

  const std::string fit_text = place.run({"fit", "pendant", "--report"}).out;
  const std::string show_text = place.run({"show", "pendant", "--report"}).out;
  const auto report = [](const std::string& text) {
    const auto begin = text.find("How the fit came about");
    return text.substr(begin, text.find("\nWhere it comes from", begin) - begin);
  };
  EXPECT_EQ(report(fit_text), report(show_text));
  for (const char* part : {"lag one", "correlation length", "bandwidth of the current channel", "steady.csv",
                           "hardly told apart", "is held at", "chosen", "best"}) {
    EXPECT_TRUE(contains(fit_text, part)) << part << "\n" << fit_text;
  }
}

TEST_F(FitReportCommand, WithoutTheOptionNothingIsAdded) {
  const std::string with = place.run({"fit", "pendant", "--report"}).out;
  const std::string without = place.run({"fit", "pendant"}).out;
  EXPECT_FALSE(contains(without, "How the fit came about"));
  EXPECT_TRUE(with.starts_with(without)) << without;
  EXPECT_FALSE(Json::parse(place.run({"fit", "pendant", "--json"}).out)["fit"].contains("report"));
  EXPECT_FALSE(Json::parse(place.run({"show", "pendant", "--json"}).out)["fit"].contains("report"));
}

TEST_F(FitReportCommand, AFitOfAnEarlierVersionHasNone) {
  ASSERT_EQ(place.run({"fit", "pendant"}).status, 0);
  overwrite_report("");
  const Outcome shown = place.run({"show", "pendant", "--report"});
  EXPECT_EQ(shown.status, 0);
  EXPECT_TRUE(contains(shown.out, "No report of this fit is kept")) << shown.out;
  EXPECT_TRUE(Json::parse(place.run({"show", "pendant", "--report", "--json"}).out)["fit"]["report"].is_null());
}

TEST_F(FitReportCommand, ADamagedReportIsSaid) {
  ASSERT_EQ(place.run({"fit", "pendant"}).status, 0);
  overwrite_report(R"({"blocks":"many"})");
  const Outcome shown = place.run({"show", "pendant", "--report"});
  EXPECT_EQ(shown.status, 5);
  EXPECT_TRUE(contains(shown.err, "the stored report of the fit is damaged")) << shown.err;
}

}  // namespace
}  // namespace lampload::test::fit_report_test
