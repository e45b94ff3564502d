// A finished channel against its prediction, and what that does to later recommendations. Resistors: Ohm's law.

#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "json_keys.h"
#include "program.h"
#include "stored_lamp.h"

namespace lampload::test::compare_test {
namespace {

using Json = nlohmann::ordered_json;

class CompareCommand : public testing::Test {
 protected:
  void SetUp() override {
    place.write_dimmer("dimmer.json");
    ASSERT_EQ(place.run({"channels", "add", "dimmer.json"}).status, 0);  // makes the library
    store_lamp(place, "kettle", "resistor", "", {500.0});
    place.write_resistor_capture("three.csv", 500.0 / 3.0);
    place.write_resistor_capture("four.csv", 500.0 / 4.0);
  }

  [[nodiscard]] Outcome compared(const std::string& capture, std::vector<std::string> more = {}) const {
    std::vector<std::string> words = {"compare", capture, "--lamp",    "kettle",
                                      "--count", "3",     "--channel", "dimmer.json"};
    words.insert(words.end(), more.begin(), more.end());
    return place.run(words);
  }
  [[nodiscard]] Json recommendation() const {
    return Json::parse(place.run({"recommend", "kettle", "--channel", "dimmer.json", "--json"}).out)["recommendation"];
  }

  Workplace place;
};

TEST_F(CompareCommand, AChannelThatDoesWhatWasPredicted) {
  const Outcome outcome = compared("three.csv");
  EXPECT_EQ(outcome.status, 0) << outcome.err << outcome.out;
  EXPECT_EQ(outcome.out.find("3 x kettle on boathouse dimmer: as predicted\n"), 0U) << outcome.out;
  const Json document = Json::parse(compared("three.csv", {"--json"}).out);
  EXPECT_EQ(keys(document), (Keys{"lamp", "lamps", "agrees", "comparisons", "cautions"}));
  EXPECT_EQ(document["agrees"], true);
  const Json& one = document["comparisons"][0];
  EXPECT_EQ(keys(one), (Keys{"file", "channel", "mode", "count", "conduction_angle_deg", "supply_v", "phase_deg",
                             "agrees", "mispredicted", "figures", "constraints", "cautions"}));
  EXPECT_EQ(one["mode"], "on_off");
  EXPECT_TRUE(one["mispredicted"].is_null());
  EXPECT_EQ(keys(one["figures"][0]),
            (Keys{"name", "measured", "predicted", "interval", "unit", "limit", "off", "agrees"}));
  EXPECT_EQ(one["figures"][0]["name"], "current_rms");
  EXPECT_NEAR(one["figures"][0]["measured"].get<double>(), 3 * 0.46, 0.01);
  EXPECT_NEAR(one["figures"][0]["predicted"].get<double>(), 3 * 0.46, 0.02);
}

TEST_F(CompareCommand, AChannelThatDoesSomethingElse) {
  const Outcome outcome = compared("four.csv");
  EXPECT_EQ(outcome.status, 1) << outcome.err;
  EXPECT_EQ(outcome.out.find("3 x kettle on boathouse dimmer: not as predicted in 1 of 1 capture\n"), 0U)
      << outcome.out;
  EXPECT_NE(outcome.out.find("33 % above"), std::string::npos) << outcome.out;
  const Json document = Json::parse(compared("four.csv", {"--json"}).out);
  EXPECT_EQ(document["agrees"], false);
  EXPECT_FALSE(document["comparisons"][0]["mispredicted"].is_null());
  EXPECT_NEAR(document["comparisons"][0]["figures"][0]["off"].get<double>(), 1.0 / 3.0, 0.02);
}

TEST_F(CompareCommand, EvidenceMovesTheConfidenceOfItsMode) {
  const Json before = recommendation();
  ASSERT_NE(before["mode"], "on_off");
  const std::string mode = before["mode"];
  EXPECT_EQ(before["confidence"], "extrapolated");
  ASSERT_EQ(compared("three.csv", {"--mode", mode}).status, 0);
  EXPECT_EQ(recommendation()["confidence"], "interpolated");
  ASSERT_EQ(compared("four.csv", {"--mode", mode}).status, 1);
  const Json after = recommendation();
  EXPECT_EQ(after["confidence"], "extrapolated");
  bool said = false;
  for (const Json& caution : after["cautions"]) {
    const std::string text = caution;
    said = said || (text.find("boathouse dimmer") != std::string::npos && text.find("3 lamps") != std::string::npos);
  }
  EXPECT_TRUE(said) << after["cautions"].dump(1);
  EXPECT_EQ(after["max_lamps"], before["max_lamps"]) << "evidence does not change the count";
  const Outcome shown = place.run({"show", "kettle"});
  EXPECT_NE(shown.out.find("3 on boathouse dimmer"), std::string::npos) << shown.out;
  const Json record = Json::parse(place.run({"show", "kettle", "--json"}).out);
  EXPECT_EQ(record["comparisons"].size(), 2U);

  // another fit has to be compared anew
  store_lamp(place, "kettle", "resistor", "", {500.0});
  EXPECT_EQ(recommendation()["confidence"], "extrapolated");
  ASSERT_EQ(compared("three.csv", {"--mode", mode}).status, 0);
  EXPECT_EQ(recommendation()["confidence"], "interpolated") << "the other comparison was made with an earlier fit";
}

// 500 and 250 Ohm side by side draw as three of 500 Ohm do.
TEST_F(CompareCommand, LampsOfSeveralKinds) {
  store_lamp(place, "iron", "resistor", "", {250.0});
  const std::vector<std::string> both = {"compare", "three.csv", "--lamp",    "kettle=1",
                                         "--lamp",  "iron=1",    "--channel", "dimmer.json"};
  const Outcome outcome = place.run(both);
  EXPECT_EQ(outcome.status, 0) << outcome.err << outcome.out;
  EXPECT_EQ(outcome.out.find("1 x kettle, 1 x iron on boathouse dimmer: as predicted\n"), 0U) << outcome.out;
  EXPECT_NE(outcome.out.find("does not tell which of several kinds"), std::string::npos) << outcome.out;
  EXPECT_TRUE(Json::parse(place.run({"show", "kettle", "--json"}).out)["comparisons"].empty());
  std::vector<std::string> words = both;
  words[1] = "four.csv";
  words.emplace_back("--json");
  const Outcome off = place.run(words);
  EXPECT_EQ(off.status, 1) << off.err;
  const Json document = Json::parse(off.out);
  EXPECT_TRUE(document["lamp"].is_null());
  EXPECT_EQ(document["lamps"], Json::parse(R"([{"lamp":"kettle","count":1},{"lamp":"iron","count":1}])"));
  EXPECT_EQ(document["comparisons"][0]["count"], 2);
  // 5 % between pieces of each kind, one of them twice the current of the other, and 2 % of the clamp
  const Json& rms = document["comparisons"][0]["figures"][0];
  const double alone = 0.1 * std::hypot(1.0 / 3.0, 2.0 / 3.0);
  EXPECT_GT(rms["interval"][1].get<double>() / rms["predicted"].get<double>() - 1.0, std::hypot(alone, 0.02) - 1e-3);

  const Outcome unsaid =
      place.run({"compare", "three.csv", "--lamp", "kettle=1", "--lamp", "iron", "--channel", "dimmer.json"});
  EXPECT_EQ(unsaid.status, 2);
  EXPECT_NE(unsaid.err.find("how many of 'iron' hang on the channel is not said"), std::string::npos) << unsaid.err;
  words = both;
  words.insert(words.end(), {"--count", "2"});
  EXPECT_EQ(place.run(words).status, 2);
}

TEST_F(CompareCommand, ADryRunStoresNothing) {
  EXPECT_EQ(compared("four.csv", {"--dry-run"}).status, 1);
  EXPECT_TRUE(Json::parse(place.run({"show", "kettle", "--json"}).out)["comparisons"].empty());
}

TEST_F(CompareCommand, WhatMakesNoSenseIsRefused) {
  EXPECT_EQ(place.run({"compare", "three.csv", "--lamp", "kettle", "--channel", "dimmer.json"}).status, 2);
  EXPECT_EQ(
      place.run({"compare", "three.csv", "--lamp", "kettle", "--count", "2.5", "--channel", "dimmer.json"}).status, 2);
  EXPECT_EQ(compared("three.csv", {"--mode", "half"}).status, 2);
  EXPECT_EQ(compared("nowhere.csv").status, 3);
  EXPECT_EQ(place.run({"compare", "three.csv", "--lamp", "ketle", "--count", "3", "--channel", "dimmer.json"}).status,
            4);
  place.write_resistor_capture("iron.csv", 60.0);
  ASSERT_EQ(place.run({"import", "iron.csv", "--lamp", "iron"}).status, 0);
  const Outcome unfitted =
      place.run({"compare", "iron.csv", "--lamp", "iron", "--count", "1", "--channel", "dimmer.json"});
  EXPECT_EQ(unfitted.status, 3);
  EXPECT_NE(unfitted.err.find("'iron' has no equivalent circuit"), std::string::npos) << unfitted.err;
}

}  // namespace
}  // namespace lampload::test::compare_test
