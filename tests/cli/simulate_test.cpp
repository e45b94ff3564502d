// The simulate command: what it writes is read back by the project's own reader, and the figures agree.

#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>
#include <sstream>

#include "json_keys.h"
#include "program.h"
#include "stored_lamp.h"
#include "tests/places.h"

namespace lampload::test::simulate_test {
namespace {

using Json = nlohmann::ordered_json;

class Simulate : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    place = new Workplace;
    place->write_dimmer("dimmer.json");
    store_lamp(*place, "kettle", "resistor", "", {500.0});
    store_lamp(*place, "iron=hot", "resistor", "", {1000.0});
    ASSERT_EQ(place->run({"channels", "add", "dimmer.json"}).status, 0);
  }
  static void TearDownTestSuite() {
    delete place;
    place = nullptr;
  }
  static Outcome simulate(std::vector<std::string> words) {
    words.insert(words.begin(), {"simulate", "--channel", "boathouse dimmer"});
    return place->run(words);
  }
  static Json inspected(const std::string& file) {
    const Outcome outcome = place->run({"inspect", file, "--json"});
    EXPECT_EQ(outcome.status, 0) << outcome.err << outcome.out;
    return Json::parse(outcome.out)["captures"][0];
  }
  static Workplace* place;
};
Workplace* Simulate::place = nullptr;

// Closed form: at 90 degrees a resistor takes half of its power, and the rms voltage is the uncut one over sqrt(2).
TEST_F(Simulate, RoundTripOfASteadyCut) {
  for (const std::string edge : {"leading", "trailing"}) {
    const Outcome outcome =
        simulate({"kettle=4", "--mode", edge + "_edge", "--angle", "90", "--output", "cut.csv", "--json"});
    ASSERT_EQ(outcome.status, 0) << outcome.err << outcome.out;
    const Json document = Json::parse(outcome.out);
    EXPECT_EQ(keys(document), (Keys{"simulated", "lamps", "channel", "mode", "conduction_deg", "duty", "turn_on_deg",
                                    "settled", "file", "capture", "cautions"}));
    EXPECT_EQ(keys(document["lamps"][0]), (Keys{"lamp", "count", "current_rms_a", "current_peak_a"}));
    EXPECT_EQ(document["simulated"], true);
    EXPECT_EQ(document["lamps"][0]["count"], 4);
    EXPECT_EQ(document["conduction_deg"], 90.0);
    EXPECT_TRUE(document["duty"].is_null());
    const Json capture = inspected("cut.csv");
    EXPECT_EQ(capture["cut"]["edge"], edge);
    EXPECT_NEAR(capture["cut"]["conduction_angle_deg"].get<double>(), 90.0, 1.0);
    EXPECT_EQ(capture["mains_frequency_hz"].is_null(), false);
    EXPECT_EQ(capture["samples"], 20000);
    for (const char* key : {"voltage_rms_v", "current_rms_a", "active_power_w"}) {
      EXPECT_NEAR(capture[key].get<double>(), document["capture"][key].get<double>(), 1e-4 * capture[key].get<double>())
          << key;
    }
    // four of 500 Ohm on 230 V, less what the dimmer's path takes
    EXPECT_NEAR(capture["active_power_w"].get<double>(), 0.5 * 4.0 * 230.0 * 230.0 / 500.0, 5.0);
    EXPECT_NEAR(capture["voltage_rms_v"].get<double>(), 230.0 / std::numbers::sqrt2, 2.0);
  }
}

TEST_F(Simulate, HeaderSaysThatItIsSimulated) {
  ASSERT_EQ(simulate({"kettle=4", "--mode", "on_off", "--cycles", "3", "--output", "uncut.csv"}).status, 0);
  std::istringstream lines(place->read("uncut.csv"));
  std::string line;
  std::getline(lines, line);
  EXPECT_TRUE(line.starts_with("# simulated by lampload ")) << line;
  EXPECT_NE(line.find("not measured"), std::string::npos) << line;
  std::getline(lines, line);
  EXPECT_EQ(line, "# 4 x kettle on boathouse dimmer, on/off, in steady operation");
  while (line.starts_with("#")) std::getline(lines, line);
  EXPECT_EQ(line, "time_s,supply_v,terminal_v,current_a,lamps_1_current_a");
}

// A mix: the columns of the lamps add up to the whole current, in the ratio of their conductances.
TEST_F(Simulate, MixedLampsShareTheCurrent) {
  const Outcome outcome =
      simulate({"kettle=2", "iron=hot=3", "--mode", "leading_edge", "--angle", "120", "--output", "mix.csv", "--json"});
  ASSERT_EQ(outcome.status, 0) << outcome.err << outcome.out;
  const Json lamps = Json::parse(outcome.out)["lamps"];
  EXPECT_EQ(lamps[1]["lamp"], "iron=hot");
  EXPECT_EQ(lamps[1]["count"], 3);
  const double kettle = lamps[0]["current_rms_a"];
  const double iron = lamps[1]["current_rms_a"];
  EXPECT_NEAR(kettle / iron, (2.0 / 500.0) / (3.0 / 1000.0), 0.01);
  const Json capture = inspected("mix.csv");
  EXPECT_NEAR(capture["current_rms_a"].get<double>(), kettle + iron, 2e-3 * (kettle + iron));
}

// Closed form: a resistor switched on at the crest takes its peak at once.
TEST_F(Simulate, TurnOnIsSeenAsOne) {
  const Outcome outcome = simulate({"iron=hot", "--mode", "on_off", "--turn-on", "90", "--output", "on.csv", "--json"});
  ASSERT_EQ(outcome.status, 0) << outcome.err << outcome.out;
  EXPECT_EQ(Json::parse(outcome.out)["turn_on_deg"], 90.0);
  const Json capture = inspected("on.csv");
  ASSERT_TRUE(capture["inrush"].is_object()) << capture;
  EXPECT_NEAR(capture["inrush"]["phase_deg"].get<double>(), 90.0, 2.0);
  EXPECT_NEAR(capture["inrush"]["peak_a"].get<double>(), 230.0 * std::numbers::sqrt2 / 1000.0, 0.01);
}

TEST_F(Simulate, SupplyAndSamplingAreAsAsked) {
  const Outcome outcome = simulate(
      {"kettle", "--mode", "on_off", "--supply", "200", "--cycles", "5", "--sample-interval", "5e-5", "--json"});
  ASSERT_EQ(outcome.status, 0) << outcome.err << outcome.out;
  const Json capture = Json::parse(outcome.out)["capture"];
  EXPECT_EQ(capture["samples"], 2000);
  EXPECT_NEAR(capture["sample_rate_hz"].get<double>(), 20000.0, 1e-6);
  EXPECT_NEAR(capture["voltage_rms_v"].get<double>(), 200.0, 1.0);
}

// Closed forms: the rms of a sum of sines and an offset is the root of the sum of their squares. A third order that
// rises with the fundamental takes its amplitude off the crest.
TEST_F(Simulate, TheSupplyIsTheChannelFiles) {
  const auto file = [](const std::string& name, const std::string& more) {
    place->write(name, R"({"format":"lampload-channel","format_version":"1.1","name":"boathouse mains",
      "supply":{"voltage_v":230,"frequency_hz":50)" +
                           more + R"(},
      "output":{"kind":"phase_cut","edges":["leading"],"switch":"mosfet_pair","rated_current_a":2}})");
  };
  const auto current = [](const std::string& channel) -> Json {
    const Outcome outcome = place->run({"simulate", "kettle", "--channel", channel, "--mode", "on_off", "--json"});
    EXPECT_EQ(outcome.status, 0) << outcome.err << outcome.out;
    return Json::parse(outcome.out)["lamps"][0];
  };
  const auto worst = [](const std::string& channel) {
    const Outcome outcome = place->run({"recommend", "kettle", "--channel", channel, "--json"});
    EXPECT_EQ(outcome.status, 0) << outcome.err << outcome.out;
    const Json document = Json::parse(outcome.out);
    for (const Json& mode : document["recommendation"]["modes"]) {
      if (mode["mode"] == "on_off") return mode["constraints"][0]["value"].get<double>();
    }
    return 0.0;
  };
  file("sine.json", "");
  file("third.json", R"(,"harmonics":[{"order":3,"percent":30}])");
  file("offset.json", R"(,"dc_offset_v":-40)");
  const double sine_a = 230.0 / 500.0;
  EXPECT_NEAR(current("sine.json")["current_rms_a"].get<double>(), sine_a, 1e-3 * sine_a);
  const Json third = current("third.json");
  EXPECT_NEAR(third["current_rms_a"].get<double>(), std::sqrt(1.09) * sine_a, 1e-3 * sine_a);
  // sin x + h sin 3x is highest where cos^2 x = (9 h - 1) / (12 h), to either side of the crest
  const double h = 0.3, x = std::acos(std::sqrt((9.0 * h - 1.0) / (12.0 * h)));
  const double crest = std::sin(x) + h * std::sin(3.0 * x);
  EXPECT_NEAR(third["current_peak_a"].get<double>(), crest * std::numbers::sqrt2 * sine_a, 2e-3 * sine_a);
  const Json offset = current("offset.json");
  EXPECT_NEAR(offset["current_rms_a"].get<double>(), std::hypot(230.0, 40.0) / 500.0, 1e-3 * sine_a);
  EXPECT_NEAR(offset["current_peak_a"].get<double>(), (230.0 * std::numbers::sqrt2 + 40.0) / 500.0, 2e-3 * sine_a);
  // with all margins: 10 % more supply, which an offset does not follow
  EXPECT_NEAR(worst("third.json") / worst("sine.json"), std::sqrt(1.09), 2e-3);
  EXPECT_NEAR(worst("offset.json") / worst("sine.json"), std::hypot(253.0, 40.0) / 253.0, 2e-3);
}

TEST_F(Simulate, DcPulses) {
  place->write("rack.json",
               R"({"format":"lampload-channel","format_version":"1.0","name":"rack dimmer","supply":{},
                   "output":{"kind":"dc_pwm","switch":"mosfet","supply_voltage_v":24,"on_resistance_ohm":0.01,
                             "pwm_hz":500}})");
  const Outcome outcome = place->run({"simulate", "kettle", "--channel", "rack.json", "--mode", "dc_pwm", "--duty",
                                      "0.25", "--cycles", "20", "--output", "pulses.csv", "--json"});
  ASSERT_EQ(outcome.status, 0) << outcome.err << outcome.out;
  const Json capture = inspected("pulses.csv");
  EXPECT_EQ(capture["supply"], "dc");
  EXPECT_NEAR(capture["dc"]["pulse_frequency_hz"].get<double>(), 500.0, 1.0);
  EXPECT_NEAR(capture["dc"]["duty"].get<double>(), 0.25, 0.01);
  EXPECT_NEAR(capture["active_power_w"].get<double>(), 0.25 * 24.0 * 24.0 / 500.0, 5e-3);
}

TEST_F(Simulate, RefusalsSayWhatWouldDo) {
  EXPECT_EQ(simulate({"kettle", "--mode", "leading_edge"}).err,
            "lampload: --angle is required with mode leading_edge. Give the conduction angle in degrees\n");
  EXPECT_EQ(simulate({"kettle", "--mode", "on_off", "--angle", "90"}).err,
            "lampload: --angle has no meaning with mode on_off. Leave it out, or ask for another mode\n");
  EXPECT_EQ(simulate({"kettle=0", "--mode", "on_off"}).err,
            "lampload: 'kettle=0': the count is not a whole number from 1 to 100000. Write NAME=COUNT, such as 'stair "
            "candle=4'\n");
  EXPECT_EQ(simulate({"kettle=many", "--mode", "on_off"}).status, 2);
  EXPECT_EQ(simulate({"kettle", "--mode", "leading_edge", "--angle", "200"}).err,
            "lampload: a conduction angle of 200 degrees; expected above 0, up to 180\n");
  EXPECT_EQ(simulate({"kettle", "--mode", "on_off", "--turn-on", "180"}).err,
            "lampload: a turn-on at 180 degrees; expected 0 to less than 180\n");
  EXPECT_EQ(simulate({"toaster", "--mode", "on_off"}).status, 4);
  EXPECT_EQ(simulate({"kettle", "--mode", "on_off", "--output", "nowhere/x.csv"}).status, 3);
  EXPECT_EQ(simulate({"kettle"}).status, 2);
}

}  // namespace
}  // namespace lampload::test::simulate_test
