// The published description of the channel file says what the program does.

#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <span>
#include <sstream>

#include "db/channel_file.h"
#include "db/channel_keys.h"
#include "tests/places.h"

namespace lampload::channel_schema_test {
namespace {

namespace keys = channel_keys;
using Json = nlohmann::json;

const std::string formats = test::source_folder() + "/docs/formats/";

Json schema() { return Json::parse(std::ifstream(formats + "channel.schema.json")); }

std::string page() {
  std::ostringstream text;
  text << std::ifstream(formats + "channel.md").rdbuf();
  return text.str();
}

template <class Keys>
void expect_bounds(const Json& properties, const Keys& list, std::set<std::string>& seen) {
  for (const auto& key : list) {
    const std::string name(key.name);
    ASSERT_TRUE(properties.contains(name)) << name;
    EXPECT_EQ(properties[name].value("minimum", -1e300), key.lower) << name;
    EXPECT_EQ(properties[name].value("maximum", -1e300), key.upper) << name;
    seen.insert(name);
  }
}

std::set<std::string> names_of(const Json& properties) {
  std::set<std::string> names;
  for (const auto& [name, value] : properties.items()) names.insert(name);
  return names;
}

template <class Names>
void expect_choices(const Json& property, const Names& names) {
  EXPECT_EQ(property["enum"].get<std::vector<std::string>>(), std::vector<std::string>(names.begin(), names.end()));
}

TEST(ChannelSchema, HasTheKeysAndBoundsOfTheProgram) {
  const Json document = schema();
  const Json& top = document["properties"];
  std::set<std::string> seen;
  expect_bounds(top["supply"]["properties"], keys::supply, seen);
  expect_bounds(top["supply"]["properties"], std::array{keys::dc_offset}, seen);
  seen.insert(std::string(keys::supply_harmonics));
  EXPECT_EQ(names_of(top["supply"]["properties"]), seen);
  const Json& harmonic = top["supply"]["properties"][keys::supply_harmonics]["items"];
  seen = {std::string(keys::harmonic_order)};
  expect_bounds(harmonic["properties"], keys::harmonic, seen);
  EXPECT_EQ(names_of(harmonic["properties"]), seen);
  EXPECT_EQ(harmonic["properties"][keys::harmonic_order]["minimum"], keys::least_order);
  EXPECT_EQ(harmonic["properties"][keys::harmonic_order]["maximum"], keys::highest_order);
  EXPECT_EQ(harmonic["additionalProperties"], false);

  seen = {std::string(keys::shared_neutral.name)};
  expect_bounds(top["cable"]["properties"], keys::cable, seen);
  expect_bounds(top["cable"]["properties"], keys::conductor, seen);
  EXPECT_EQ(names_of(top["cable"]["properties"]), seen);

  seen = {"curve"};
  expect_bounds(top["breaker"]["properties"], std::array{keys::breaker_rating}, seen);
  EXPECT_EQ(names_of(top["breaker"]["properties"]), seen);
  expect_choices(top["breaker"]["properties"]["curve"], keys::breaker_curves);

  const Json& output = top["output"]["properties"];
  seen = {"kind", "edges", "switch", std::string(keys::neutral.name), std::string(keys::zero_cross_turn_on.name)};
  expect_bounds(output, keys::ratings, seen);
  expect_bounds(output, keys::starting, seen);
  expect_bounds(output, keys::range, seen);
  expect_bounds(output, keys::details, seen);
  EXPECT_EQ(names_of(output), seen);
  expect_choices(output["kind"], keys::output_kinds);
  expect_choices(output["switch"], keys::switch_kinds);
  expect_choices(output["edges"]["items"], keys::edges);

  seen = {std::string(keys::harmonics.name)};
  expect_bounds(top["limits"]["properties"], keys::limits, seen);
  EXPECT_EQ(names_of(top["limits"]["properties"]), seen);

  EXPECT_EQ(names_of(top), std::set<std::string>(keys::top.begin(), keys::top.end()));
}

// In a file of 1.0 exactly the keys that the program keeps for 1.1 are forbidden.
TEST(ChannelSchema, TellsTheVersionsApart) {
  const Json document = schema();
  EXPECT_EQ(document["properties"]["format_version"]["enum"].get<std::vector<std::string>>(),
            std::vector<std::string>(keys::format_versions.begin(), keys::format_versions.end()));
  Json forbidden;
  for (const Json& rule : document["allOf"]) {
    if (rule["if"]["properties"].contains("format_version")) forbidden = rule["then"]["properties"];
  }
  const auto later = [](const auto& list, std::set<std::string>& names) {
    for (const auto& key : list) {
      if (key.minor > 0) names.insert(std::string(key.name));
    }
  };
  std::set<std::string> supply;
  later(keys::supply, supply);
  later(std::array{keys::dc_offset}, supply);
  if (keys::supply_harmonics_minor > 0) supply.insert(std::string(keys::supply_harmonics));
  EXPECT_EQ(names_of(forbidden["supply"]["properties"]), supply);
  std::set<std::string> cable;
  later(keys::cable, cable);
  later(keys::conductor, cable);
  later(std::array{keys::shared_neutral}, cable);
  EXPECT_EQ(names_of(forbidden["cable"]["properties"]), cable);
  std::set<std::string> output;
  for (const auto& list :
       {std::span<const keys::OutputNumber>(keys::ratings), {keys::starting}, {keys::range}, {keys::details}})
    later(list, output);
  EXPECT_EQ(names_of(forbidden["output"]["properties"]), output);
  EXPECT_EQ(forbidden["limits"], false);
}

TEST(ChannelSchema, ThePageDescribesEveryKey) {
  const std::string text = page();
  const Json document = schema();
  for (const auto& [section, value] : document["properties"].items()) {
    EXPECT_NE(text.find("| `" + section + "` |"), std::string::npos) << section;
    if (!value.contains("properties")) continue;
    for (const auto& [name, property] : value["properties"].items()) {
      EXPECT_NE(text.find("| `" + name + "` |"), std::string::npos) << name;
      if (!property.contains("items") || !property["items"].contains("properties")) continue;
      for (const auto& [inner, unused] : property["items"]["properties"].items()) {
        EXPECT_NE(text.find("| `" + inner + "` |"), std::string::npos) << name << "." << inner;
      }
    }
  }
}

TEST(ChannelSchema, TheExampleOfThePageIsAChannel) {
  const std::string text = page();
  const std::size_t start = text.find("```json\n") + 8;
  const Channel channel = parse_channel(text.substr(start, text.find("```", start) - start), "docs/formats/channel.md");
  EXPECT_EQ(channel.name, "boathouse stairs");
}

}  // namespace
}  // namespace lampload::channel_schema_test
