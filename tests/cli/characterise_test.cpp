// The main job on the sample captures: answer first, everything stored, the truth of the simulation met.

#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "program.h"
#include "tests/places.h"

namespace lampload::test::characterise_test {
namespace {

using Json = nlohmann::json;
namespace fs = std::filesystem;

const fs::path samples = test::samples_folder();

std::string sample(const std::string& name) { return (samples / name).string(); }

TEST(Characterise, CapacitorInputCandle) {
  Workplace place;
  const std::string folder = "simulated_stair_candle_led_5w/";
  const std::vector<std::string> words = {"characterise",
                                          sample(folder + "steady.csv"),
                                          sample(folder + "turn_on.csv"),
                                          sample(folder + "leading_100deg.csv"),
                                          "--lamp",
                                          "stair candle",
                                          "--channel",
                                          sample("boathouse_mosfet_neutral.json"),
                                          "--json"};
  const Outcome outcome = place.run(words);
  ASSERT_LE(outcome.status, 1) << outcome.err;
  const Json document = Json::parse(outcome.out);
  EXPECT_EQ(document["fit"]["family"], "rectifier_capacitor");
  EXPECT_NEAR(document["captures"][0]["active_power_w"].get<double>(), 5.02, 0.1);  // truth.json: 5.02 W
  // The lamp, its captures, the fit and the channel are all there afterwards.
  const Json shown = Json::parse(place.run({"show", "stair candle", "--json"}).out);
  EXPECT_EQ(shown["captures"].size(), 3U);
  EXPECT_EQ(shown["fit"]["family"], document["fit"]["family"]);
  EXPECT_EQ(shown["fit"]["parameters"], document["fit"]["parameters"]);
  EXPECT_EQ(Json::parse(place.run({"channels", "list", "--json"}).out)["channels"].size(), 1U);
  // Asked again from the store, the answer is the same.
  const Json again = Json::parse(place.run({"recommend", "stair candle", "--json"}).out);
  EXPECT_EQ(again["recommendations"][0], document["recommendation"]);
}

TEST(Characterise, FirstLineIsTheAnswer) {
  Workplace place;
  place.write_resistor_capture("kettle.csv");
  place.write_dimmer("dimmer.json");
  const Outcome outcome = place.run({"characterise", "kettle.csv", "--lamp", "kettle", "--channel", "dimmer.json"});
  ASSERT_LE(outcome.status, 1) << outcome.err;
  const std::string first = outcome.out.substr(0, outcome.out.find('\n'));
  EXPECT_TRUE(first.starts_with("kettle: ")) << first;
  EXPECT_NE(first.find(outcome.status == 0 ? "at most" : "no "), std::string::npos) << first;
  EXPECT_NE(outcome.out.find("Mains voltage kills"), std::string::npos);
}

TEST(Characterise, ALampThatSuitsNoModeIsStatusOne) {
  Workplace place;
  place.write_resistor_capture("iron.csv", 60.0);  // 3.8 A on a dimmer of 2 A
  place.write_dimmer("dimmer.json");
  EXPECT_EQ(place.run({"characterise", "iron.csv", "--lamp", "iron", "--channel", "dimmer.json"}).status, 1);
  EXPECT_EQ(place.run({"recommend", "iron"}).status, 1);
  EXPECT_EQ(place.run({"fit", "iron"}).status, 0);
}

TEST(Characterise, ALabelThatSaysNoLeavesOnOff) {
  Workplace place;
  place.write_resistor_capture("kettle.csv");
  place.write_dimmer("dimmer.json");
  // A steady capture alone could be a glowing filament as well; an ohmmeter tells.
  const Outcome outcome = place.run({"characterise", "kettle.csv", "--lamp", "kettle", "--channel", "dimmer.json",
                                     "--cold-resistance", "500", "--label-dimmable", "no", "--json"});
  const Json recommendation = Json::parse(outcome.out)["recommendation"];
  EXPECT_TRUE(recommendation["mode"] == "on_off" || recommendation["mode"] == "none") << recommendation["mode"];
  const Outcome allowed =
      place.run({"recommend", "kettle", "--channel", "dimmer.json", "--label-dimmable", "unknown", "--json"});
  EXPECT_NE(Json::parse(allowed.out)["recommendation"]["mode"], recommendation["mode"]);
}

/// A current that no lamp draws: every half cycle another size, so that no circuit without memory or with it repeats
/// it.
TEST(Characterise, ALampOfNoFamilyIsStoredAndSaid) {
  Workplace place;
  std::string text = "time (s),voltage (V),current (A)\n";
  std::uint32_t dice = 12345;
  double size = 0.1;
  for (int i = 0; i < 4000; ++i) {
    const double t = i / 20000.0;
    if (i % 50 == 0) {
      dice = dice * 1664525U + 1013904223U;
      size = 0.05 + 0.4 * static_cast<double>(dice >> 8U) / 16777216.0;
    }
    const double v = 325.0 * std::sin(314.159265 * t);
    text += std::to_string(t) + "," + std::to_string(v) + "," + std::to_string(size * v / 325.0) + "\n";
  }
  place.write("wild.csv", text);
  place.write_dimmer("dimmer.json");
  const Outcome outcome =
      place.run({"characterise", "wild.csv", "--lamp", "wild", "--channel", "dimmer.json", "--json"});
  EXPECT_EQ(outcome.status, 1) << outcome.out << outcome.err;
  const Json document = Json::parse(outcome.out);
  EXPECT_EQ(document["fit"]["accepted"], false);
  const Json shown = Json::parse(place.run({"show", "wild", "--json"}).out);
  EXPECT_EQ(shown["captures"].size(), 1U);
  EXPECT_GT(shown["captures"][0]["active_power_w"].get<double>(), 0.0);
}

}  // namespace
}  // namespace lampload::test::characterise_test
