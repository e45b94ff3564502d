// A whole installation through the program. Resistors, so that every expected value is Ohm's law.

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "json_keys.h"
#include "program.h"
#include "stored_lamp.h"

namespace lampload::test::plan_test {
namespace {

using Json = nlohmann::ordered_json;

/// Heaters of 529 Ohm (100 W at 230 V) on relays behind one breaker.
std::string plan_with(const std::string& first_count, const std::string& second_count, const std::string& more = "") {
  return R"({"format": "lampload-plan", "format_version": "1.0", "name": "boathouse",
  "boards": [{"name": "board", "supply": {"voltage_v": 230, "frequency_hz": 50, "tolerance_percent": 0},
              "breakers": [{"name": "F1", "curve": "B", "rating_a": 6}]}],
  "lamps": [{"name": "heater", "family": "resistor", "parameters": {"resistance_ohm": 529}}],
  "rooms": [{"name": "changing room", "channels": [
    {"name": "benches", "breaker": "F1", "description": {"output": {"kind": "relay", "rated_current_a": 4}},
     "lamps": [{"lamp": "heater", "count": )" +
         first_count + R"(}]},
    {"name": "showers", "breaker": "F1", "description": {"output": {"kind": "relay", "rated_current_a": 4}},
     "lamps": [{"lamp": "heater", "count": )" +
         second_count + R"(}])" + more + "}]}]}";
}

const Json& constraint(const Json& channel, const std::string& name) {
  for (const Json& one : channel["constraints"]) {
    if (one["name"] == name) return one;
  }
  throw std::runtime_error("no " + name);
}

TEST(PlanCommand, WhatHoldsIsStatusZero) {
  const Workplace place;
  place.write("plan.json", plan_with("6", "5"));
  const Outcome outcome = place.run({"plan", "plan.json"});
  EXPECT_EQ(outcome.status, 0) << outcome.err << outcome.out;
  EXPECT_EQ(outcome.out.find("boathouse: holds: 2 channels, 1 breaker\n"), 0U) << outcome.out;
  const Json document = Json::parse(place.run({"plan", "plan.json", "--json"}).out);
  EXPECT_EQ(keys(document), (Keys{"plan", "holds", "channels", "breakers"}));
  EXPECT_EQ(document["holds"], true);
  const Json& channel = document["channels"][0];
  EXPECT_EQ(keys(channel), (Keys{"channel", "mode", "holds", "constraints", "room", "breaker", "lamps", "mode_chosen",
                                 "holds_nominal", "limited_by", "suggestions", "not_checked", "cautions"}));
  EXPECT_EQ(channel["channel"], "benches");
  EXPECT_EQ(channel["mode"], "on_off");
  EXPECT_EQ(channel["lamps"], Json::parse(R"([{"lamp":"heater","count":6}])"));
  const Json& rms = constraint(channel, "continuous_current");
  EXPECT_EQ(keys(rms), (Keys{"name", "value", "value_nominal", "limit", "unit", "holds", "holds_nominal", "source",
                             "sentence", "advice"}));
  EXPECT_NEAR(rms["value_nominal"].get<double>(), 6 * 230.0 / 529.0, 0.02);
  EXPECT_NEAR(rms["value"].get<double>(), 1.1 * 6 * 230.0 / 529.0, 0.03) << "10 % for pieces that differ";
  const Json& breaker = document["breakers"][0];
  EXPECT_EQ(keys(breaker), (Keys{"board", "breaker", "curve", "rating_a", "holds", "channels", "load", "starts",
                                 "suggestions", "not_checked"}));
  EXPECT_NEAR(breaker["load"]["value_nominal"].get<double>(), 11 * 230.0 / 529.0, 0.03);
  EXPECT_EQ(keys(breaker["starts"][0]), (Keys{"channels", "inrush", "together_a", "stagger_s", "least_stagger_s"}));
  EXPECT_EQ(breaker["starts"][0]["least_stagger_s"], 0.0);
}

TEST(PlanCommand, WhatDoesNotHoldIsStatusOneWithWays) {
  const Workplace place;
  place.write("plan.json", plan_with("9", "5"));  // 3.91 A, with 10 % more 4.30 A; the breaker 6.70 A
  const Outcome outcome = place.run({"plan", "plan.json"});
  EXPECT_EQ(outcome.status, 1) << outcome.err;
  for (const char* words :
       {"boathouse: does NOT hold: 1 of 2 channels and 1 of 1 breaker", "With central values it holds",
        "Suggested: split over 2 such channels it holds: at most 5 x heater on each.",
        "Suggested: 8 x heater instead of 9 holds.", "breaker F1 (board)", "move a channel to another breaker"}) {
    EXPECT_NE(outcome.out.find(words), std::string::npos) << words << "\n" << outcome.out;
  }
  const Json document = Json::parse(place.run({"plan", "plan.json", "--json"}).out);
  EXPECT_EQ(document["holds"], false);
  EXPECT_EQ(document["channels"][0]["holds"], false);
  EXPECT_EQ(document["channels"][0]["suggestions"][0]["kind"], "split");
  EXPECT_EQ(document["channels"][1]["holds"], true);
  EXPECT_EQ(document["breakers"][0]["load"]["holds"], false);
}

TEST(PlanCommand, LampsAndChannelsOfTheLibraryAreFound) {
  const Workplace place;
  place.write_dimmer("dimmer.json");
  store_lamp(place, "kettle", "resistor", "", {500.0});
  ASSERT_EQ(place.run({"channels", "add", "dimmer.json"}).status, 0);
  const std::string plan = R"({"format": "lampload-plan", "format_version": "1.0", "name": "kitchen",
    "rooms": [{"name": "kitchen", "channels": [
      {"name": "by name", "library_channel": "boathouse dimmer", "lamps": [{"lamp": "kettle", "count": 2}]},
      {"name": "by file", "channel_file": "dimmer.json", "lamps": [{"lamp": "kettle", "count": 2}]}]}]})";
  place.write("plan.json", plan);
  const Outcome outcome = place.run({"plan", "plan.json", "--json"});
  ASSERT_EQ(outcome.status, 0) << outcome.err << outcome.out;
  const Json document = Json::parse(outcome.out);
  EXPECT_EQ(document["channels"][0]["constraints"], document["channels"][1]["constraints"]);
  EXPECT_TRUE(document["breakers"].empty());

  std::string other = plan;
  other.replace(other.find("kettle"), 6, "ketle");
  place.write("plan.json", other);
  const Outcome unknown = place.run({"plan", "plan.json"});
  EXPECT_EQ(unknown.status, 4);
  EXPECT_NE(unknown.err.find("the nearest is 'kettle'"), std::string::npos) << unknown.err;
}

TEST(PlanCommand, AFileThatCannotBeTrustedIsRefused) {
  const Workplace place;
  place.write("plan.json", plan_with("6", "5", R"(, "starts": "evening")"));
  const Outcome outcome = place.run({"plan", "plan.json"});
  EXPECT_EQ(outcome.status, 3);
  for (const char* words : {"plan.json", "rooms[0].channels[1].starts", "is not a known key", "'starts_with'"}) {
    EXPECT_NE(outcome.err.find(words), std::string::npos) << words << "\n" << outcome.err;
  }
  EXPECT_EQ(place.run({"plan", "nowhere.json"}).status, 3);
  place.write("plan.json", plan_with("6", "5", R"(, "mode": "trailing_edge")"));
  const Outcome unable = place.run({"plan", "plan.json"});
  EXPECT_EQ(unable.status, 3);
  EXPECT_NE(unable.err.find("channel 'showers' is planned in mode trailing_edge, and its output does on_off"),
            std::string::npos)
      << unable.err;
}

}  // namespace
}  // namespace lampload::test::plan_test
