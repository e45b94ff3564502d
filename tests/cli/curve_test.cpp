// The curve command: dimming behaviour, and tables that firmware can take.

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <numbers>
#include <sstream>

#include "json_keys.h"
#include "program.h"
#include "stored_lamp.h"
#include "tests/places.h"

namespace lampload::test::curve_test {
namespace {

using Json = nlohmann::ordered_json;

/// A library with a resistor of 500 Ohm and a trailing and leading edge dimmer.
class Curve : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    place = new Workplace;
    place->write_dimmer("dimmer.json");
    store_lamp(*place, "kettle", "resistor", "", {500.0});
    ASSERT_EQ(place->run({"channels", "add", "dimmer.json"}).status, 0);
  }
  static void TearDownTestSuite() {
    delete place;
    place = nullptr;
  }
  static Outcome curve(std::vector<std::string> words) {
    words.insert(words.begin(), {"curve", "kettle", "--channel", "boathouse dimmer"});
    return place->run(words);
  }
  static Workplace* place;
};
Workplace* Curve::place = nullptr;

double phase_cut_power(double conduction_deg) {
  const double a = std::numbers::pi * (1.0 - conduction_deg / 180.0);
  return 1.0 - a / std::numbers::pi + std::sin(2.0 * a) / (2.0 * std::numbers::pi);
}

TEST_F(Curve, JsonHoldsSweepRangeAndTable) {
  const Outcome outcome = curve({"--mode", "trailing_edge", "--target", "linear", "--steps", "100", "--json"});
  ASSERT_EQ(outcome.status, 0) << outcome.err;
  const Json document = Json::parse(outcome.out);
  EXPECT_EQ(keys(document),
            (Keys{"lamp", "channel", "mode", "count", "setting", "range", "light_law", "curves", "table", "cautions"}));
  EXPECT_EQ(keys(document["range"]), (Keys{"runs", "steady", "min_setting", "max_setting", "by", "least_share",
                                           "least_power_share", "full_power_w", "starts_at", "stops_at", "full_at",
                                           "dead_travel", "monotonic", "falls_by", "jumps"}));
  EXPECT_EQ(keys(document["curves"][0]), (Keys{"supply_v", "count", "rising", "falling"}));
  EXPECT_EQ(keys(document["curves"][0]["rising"][0]), (Keys{"setting", "power_w", "rms_a", "light", "steady"}));
  EXPECT_EQ(keys(document["table"]), (Keys{"target", "of", "levels", "below", "integer", "full_integer", "least_share",
                                           "first_reached", "distinct", "rows"}));
  EXPECT_EQ(keys(document["table"]["rows"][0]), (Keys{"level", "target", "setting", "share", "reached", "integer"}));
  EXPECT_EQ(document["setting"], "conduction_deg");
  EXPECT_EQ(document["mode"], "trailing_edge");
  EXPECT_TRUE(document["light_law"].is_null());
  EXPECT_EQ(document["table"]["of"], "power");
  EXPECT_EQ(document["table"]["rows"].size(), 101U);
  const double top = phase_cut_power(document["range"]["max_setting"]);
  for (const Json& row : document["table"]["rows"]) {
    if (row["level"] == 0 || !row["reached"]) continue;
    EXPECT_NEAR(phase_cut_power(row["setting"]) / top, row["level"].get<double>() / 100.0, 2e-3) << row;
  }
  EXPECT_EQ(curve({"--mode", "trailing_edge", "--target", "linear", "--steps", "100", "--format", "json"}).out,
            outcome.out);
}

TEST_F(Curve, CsvHasARowALevel) {
  const Outcome outcome = curve({"--mode", "leading_edge", "--target", "logarithmic", "--format", "csv"});
  ASSERT_EQ(outcome.status, 0) << outcome.err;
  std::istringstream lines(outcome.out);
  int rows = 0;
  bool header = false;
  for (std::string line; std::getline(lines, line);) {
    if (line.starts_with("#")) continue;
    if (!header) {
      EXPECT_EQ(line, "level,target_share,conduction_deg,share,reached,integer");
      header = true;
      continue;
    }
    std::istringstream cells(line);
    std::string cell;
    std::getline(cells, cell, ',');
    EXPECT_EQ(std::stoi(cell), rows);
    std::getline(cells, cell, ',');
    // IEC 62386-102, in per cent
    if (rows > 0) {
      EXPECT_NEAR(100.0 * std::stod(cell), std::pow(10.0, (rows - 1) / (253.0 / 3.0) - 1.0), 1e-5);
    }
    ++rows;
  }
  EXPECT_EQ(rows, 255);
  EXPECT_NE(outcome.out.find("# levels 1 to "), std::string::npos);
  EXPECT_NE(outcome.out.find("advice from a model"), std::string::npos);
}

// A C compiler takes the header as it is, without a warning, and finds the same integers.
TEST_F(Curve, HeaderCompilesAndHoldsTheSameIntegers) {
  const std::vector<std::string> what = {"--mode", "leading_edge", "--integer", "delay", "--ticks", "10000"};
  std::vector<std::string> as_c = what;
  as_c.insert(as_c.end(), {"--format", "c", "--output", "kettle_curve.h"});
  const Outcome outcome = curve(as_c);
  ASSERT_EQ(outcome.status, 0) << outcome.err;
  EXPECT_EQ(outcome.out, "");
  place->write("show.c",
               "#include \"kettle_curve.h\"\n#include <stdio.h>\n"
               "int main(void) {\n"
               "  printf(\"%u %u %u %u\\n\", KETTLE_LEVELS, KETTLE_FULL, KETTLE_LEAST, KETTLE_MOST);\n"
               "  for (unsigned i = 0; i <= KETTLE_LEVELS; ++i) printf(\"%u\\n\", (unsigned)kettle_delay[i]);\n"
               "  return 0;\n}\n");
  const std::string folder = place->path("").string();
  ASSERT_EQ(std::system(("cd '" + folder +
                         "' && cc -std=c99 -Wall -Wextra -Werror -pedantic show.c -o show 2> wrong && "
                         "./show > shown")
                            .c_str()),
            0)
      << place->read("wrong") << place->read("kettle_curve.h");
  std::istringstream shown(place->read("shown"));
  unsigned levels = 0, full = 0, least = 0, most = 0;
  shown >> levels >> full >> least >> most;
  EXPECT_EQ(levels, 255U);
  EXPECT_EQ(full, 10000U);
  std::vector<std::string> as_json = what;
  as_json.emplace_back("--json");
  const Json rows = Json::parse(curve(as_json).out)["table"]["rows"];
  ASSERT_EQ(rows.size(), 256U);
  for (const Json& row : rows) {
    unsigned value = 0;
    ASSERT_TRUE(shown >> value);
    EXPECT_EQ(row["integer"], value) << row;
    if (row["level"] == 0) continue;
    EXPECT_GE(value, least);
    EXPECT_LE(value, most);
    EXPECT_NEAR(row["setting"].get<double>(), 180.0 * (1.0 - value / 10000.0), 1e-9);
  }
  EXPECT_EQ(rows[0]["integer"], 10000);
}

TEST_F(Curve, ScreenSaysLimitsAndWhatIsNotReached) {
  const Outcome outcome = curve({"--count", "2"});
  ASSERT_EQ(outcome.status, 0) << outcome.err;
  for (const char* part : {"2 x kettle on boathouse dimmer", "Limits to set in firmware: ", "Smallest steady level: ",
                           "Dead travel", "Dimming curve", "Levels: lightness of power", "advice from a model"}) {
    EXPECT_NE(outcome.out.find(part), std::string::npos) << part << "\n" << outcome.out;
  }
}

TEST_F(Curve, BitsAndWaysBelowTheLeastLevel) {
  const auto table = [&](const std::vector<std::string>& more) {
    std::vector<std::string> words = {"--mode", "trailing_edge", "--json"};
    words.insert(words.end(), more.begin(), more.end());
    return Json::parse(curve(words).out)["table"];
  };
  EXPECT_EQ(table({"--bits", "8"})["full_integer"], 255);
  EXPECT_LT(table({"--bits", "8"})["distinct"].get<int>(), 255);
  EXPECT_EQ(table({"--bits", "32"})["full_integer"], 4294967295);
  EXPECT_EQ(table({"--below", "off", "--target", "square"})["rows"][1]["integer"], 0);
  EXPECT_GT(table({"--below", "hold", "--target", "square"})["rows"][1]["integer"], 0);
  EXPECT_EQ(table({"--below", "spread", "--target", "square"})["first_reached"], 1);
}

// Light goes with the duty, so that a table in proportion is the duty itself.
TEST_F(Curve, DutyOfAStrip) {
  store_lamp(*place, "rack strip", "strip", "", {20.6, 1.1, 0.0});
  place->write("rack.json",
               R"({"format":"lampload-channel","format_version":"1.0","name":"rack dimmer","supply":{},
                   "output":{"kind":"dc_pwm","switch":"mosfet","supply_voltage_v":24,"on_resistance_ohm":0.01,
                             "pwm_hz":1000}})");
  const std::vector<std::string> words = {"curve",  "rack strip", "--channel", "rack.json", "--target",
                                          "linear", "--of",       "light",     "--steps",   "50"};
  std::vector<std::string> as_json = words;
  as_json.emplace_back("--json");
  const Outcome outcome = place->run(as_json);
  ASSERT_EQ(outcome.status, 0) << outcome.err << outcome.out;
  const Json document = Json::parse(outcome.out);
  EXPECT_EQ(document["setting"], "duty");
  EXPECT_EQ(document["mode"], "dc_pwm");
  EXPECT_EQ(document["light_law"], "in proportion to the current of the LEDs");
  for (const Json& row : document["table"]["rows"]) {
    EXPECT_NEAR(row["setting"].get<double>(), row["level"].get<double>() / 50.0, 5e-4) << row;
    EXPECT_NEAR(row["integer"].get<double>(), 65535.0 * row["setting"].get<double>(), 0.5);
  }
  std::vector<std::string> as_csv = words;
  as_csv.insert(as_csv.end(), {"--format", "csv"});
  EXPECT_NE(place->run(as_csv).out.find("level,target_share,duty,share,reached,integer"), std::string::npos);
}

TEST_F(Curve, RefusalsSayWhatWouldDo) {
  EXPECT_EQ(curve({"--mode", "dc_pwm"}).err,
            "lampload: channel 'boathouse dimmer' cannot do 'dc_pwm'. It can do leading_edge, trailing_edge, on_off\n");
  EXPECT_EQ(curve({"--mode", "dc_pwm"}).status, 2);
  const Outcome on_off = curve({"--mode", "on_off"});
  EXPECT_EQ(on_off.status, 3);
  EXPECT_NE(on_off.err.find("mode on_off does not dim"), std::string::npos) << on_off.err;
  const Outcome light = curve({"--mode", "leading_edge", "--of", "light", "--format", "csv"});
  EXPECT_EQ(light.status, 3);
  EXPECT_NE(light.err.find("the light of this lamp is not estimated"), std::string::npos) << light.err;
  EXPECT_EQ(curve({"--steps", "0"}).status, 2);
  EXPECT_EQ(curve({"--steps", "1.5"}).status, 2);
  EXPECT_NE(curve({"--bits", "40"}).err.find("'40' is not a whole number from 1 to 32"), std::string::npos);
  EXPECT_EQ(curve({"--target", "gamma"}).status, 2);
  EXPECT_EQ(place->run({"curve", "toaster", "--channel", "boathouse dimmer"}).status, 4);
  EXPECT_EQ(place->run({"curve", "kettle", "--channel", "cellar"}).status, 4);
  EXPECT_EQ(curve({"--mode", "leading_edge", "--format", "csv", "--output", "nowhere/x.csv"}).status, 3);

  place->write_resistor_capture("kettle.csv");
  const Outcome imported = place->run({"import", "kettle.csv", "--lamp", "spare"});
  ASSERT_EQ(imported.status, 0) << imported.err;
  const Outcome spare = place->run({"curve", "spare", "--channel", "boathouse dimmer"});
  EXPECT_EQ(spare.status, 3);
  EXPECT_NE(spare.err.find("'spare' has no equivalent circuit: it is not fitted yet. Run 'lampload fit' on it first"),
            std::string::npos)
      << spare.err;
}

}  // namespace
}  // namespace lampload::test::curve_test
