// What a person sees of a capture before storing it.
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <string>

#include "json_keys.h"
#include "program.h"

namespace lampload::inspect_test {
namespace {

using test::Keys;
using test::keys;
using test::Outcome;
using test::Workplace;
using Json = nlohmann::ordered_json;

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// A resistance of 230 Ohm with `third` of its current as a third harmonic; 200 ms from 0 s.
std::string with_third_harmonic(double third) {
  std::string text = "time_s;voltage_v;current_a\n";
  for (int k = 0; k < 4000; ++k) {
    const double angle = 2.0 * std::numbers::pi * k / 400.0;
    const double volts = 230.0 * std::numbers::sqrt2 * std::sin(angle);
    const double amperes = std::numbers::sqrt2 * (std::sin(angle) + third * std::sin(3.0 * angle));
    text += std::to_string(k * 5e-5) + ";" + std::to_string(volts) + ";" + std::to_string(amperes) + "\n";
  }
  return text;
}

Json inspected(const Workplace& place, const std::string& file) {
  const Outcome outcome = place.run({"inspect", file, "--json"});
  EXPECT_EQ(outcome.status, 0) << outcome.err;
  return Json::parse(outcome.out)["captures"][0];
}

// 230 W of a plain resistance keep class C; 30 % times the power factor (0.958) is the third's limit over 25 W.
TEST(Inspect, HarmonicsAreHeldAgainstClassC) {
  const Workplace place;
  place.write("kept.csv", with_third_harmonic(0.25));
  place.write("exceeded.csv", with_third_harmonic(0.30));
  const Json kept = inspected(place, "kept.csv")["harmonics"];
  EXPECT_EQ(keys(kept), (Keys{"cycles_of_a_window", "windows", "current_groups_a", "class_c", "no_class_c"}));
  EXPECT_EQ(kept["cycles_of_a_window"], 10);
  ASSERT_EQ(kept["current_groups_a"].size(), 41U);
  EXPECT_NEAR(kept["current_groups_a"][1].get<double>(), 1.0, 1e-3);
  EXPECT_NEAR(kept["current_groups_a"][3].get<double>(), 0.25, 1e-3);
  EXPECT_EQ(keys(kept["class_c"]), (Keys{"holds", "share", "order", "rule", "known"}));
  EXPECT_TRUE(kept["class_c"]["holds"].get<bool>());
  EXPECT_EQ(kept["class_c"]["order"], 3);
  EXPECT_FALSE(inspected(place, "exceeded.csv")["harmonics"]["class_c"]["holds"].get<bool>());
  EXPECT_TRUE(contains(place.run({"inspect", "exceeded.csv"}).out, "class C (IEC 61000-3-2): exceeded"));
}

TEST(Inspect, SaysHowTheFileWasUnderstood) {
  const Workplace place;
  place.write("kept.csv", with_third_harmonic(0.2));
  const Json capture = inspected(place, "kept.csv");
  EXPECT_EQ(keys(capture["form"]), (Keys{"name", "certainty", "reason", "columns"}));
  EXPECT_EQ(capture["form"]["name"], "text table");
  ASSERT_EQ(capture["form"]["columns"].size(), 3U);
  EXPECT_EQ(keys(capture["form"]["columns"][1]), (Keys{"quantity", "name", "factor"}));
  EXPECT_EQ(capture["form"]["columns"][1]["quantity"], "voltage");
  EXPECT_EQ(capture["form"]["columns"][1]["name"], "voltage_v");
  EXPECT_EQ(capture["form"]["columns"][1]["factor"], 1.0);
  ASSERT_EQ(capture["first_rows"].size(), 5U);
  EXPECT_EQ(keys(capture["first_rows"][0]), (Keys{"time_s", "voltage_v", "current_a"}));
  EXPECT_NEAR(capture["first_rows"][2]["time_s"].get<double>(), 1e-4, 1e-9);
  ASSERT_EQ(capture["segments"].size(), 1U);
  EXPECT_EQ(keys(capture["segments"][0]),
            (Keys{"kind", "start_s", "end_s", "edge", "conduction_angle_deg", "current_rms_a"}));
  EXPECT_EQ(capture["segments"][0]["kind"], "running");
  const Outcome shown = place.run({"inspect", "kept.csv"});
  EXPECT_TRUE(
      contains(shown.out, "read as a text table (certainty 90 %): rows of numbers from line 2 on, cells separated by"))
      << shown.out;
}

TEST(Inspect, TellsStepsWhereEverythingIsWanted) {
  const Workplace place;
  place.write_resistor_capture("kettle.csv");
  const Outcome told = place.run({"inspect", "kettle.csv", "--verbose"});
  EXPECT_TRUE(contains(told.err, "reading: kettle.csv: ")) << told.err;
  EXPECT_TRUE(contains(told.err, " samples, one every ")) << told.err;
  EXPECT_TRUE(contains(told.err, "reading: took ")) << told.err;
  const Outcome usual = place.run({"inspect", "kettle.csv"});
  EXPECT_EQ(usual.out, told.out);
  EXPECT_FALSE(contains(usual.err, "reading: ")) << usual.err;
}

// Crests at the top, zero in the middle; Braille only where the terminal says that it can.
TEST(Inspect, DrawsBothWaveforms) {
  const Workplace place;
  place.write_resistor_capture("kettle.csv");
  const std::string plain = place.run({"inspect", "kettle.csv"}, {{"LANG", "C.UTF-8"}}).out;
  EXPECT_TRUE(contains(plain, "  voltage        325 V |"));
  EXPECT_TRUE(contains(plain, "  current       648 mA |")) << plain;  // as the file's steps have it
  EXPECT_TRUE(contains(plain, "0 |"));
  EXPECT_FALSE(contains(plain, "\xe2\xa0")) << "Braille in a file";
  EXPECT_TRUE(contains(place.run_on_terminal({"inspect", "kettle.csv"}, "", {{"LC_ALL", "C.UTF-8"}}).out, "\xe2\xa1"));
  EXPECT_FALSE(contains(place.run_on_terminal({"inspect", "kettle.csv"}, "", {{"LC_ALL", "C"}}).out, "\xe2\xa1"));
}

TEST(Inspect, DcHasNeitherHarmonicsNorSegments) {
  const Workplace place;
  std::string text = "time_s,voltage_v,current_a\n";
  for (int k = 0; k < 2000; ++k) {
    text += std::to_string(k * 1e-5) + "," + std::to_string(24.0 + 0.001 * (k % 3)) + "," +
            std::to_string(1.0 + 0.001 * (k % 2)) + "\n";
  }
  place.write("strip.csv", text);
  const Json capture = inspected(place, "strip.csv");
  EXPECT_TRUE(capture["harmonics"].is_null());
  EXPECT_TRUE(capture["segments"].empty());
}

}  // namespace
}  // namespace lampload::inspect_test
