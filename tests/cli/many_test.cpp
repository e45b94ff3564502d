// One lamp over several channels and counts, one channel over several lamps.

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "json_keys.h"
#include "program.h"
#include "stored_lamp.h"

namespace lampload::test::many_test {
namespace {

using Json = nlohmann::ordered_json;

class Many : public testing::Test {
 protected:
  void SetUp() override {
    place.write_dimmer("dimmer.json");
    store_lamp(place, "kettle", "resistor", "", {500.0});
  }
  Workplace place;
};

TEST_F(Many, ChannelsAreRankedBestFirst) {
  std::string small = place.read("dimmer.json");
  small.replace(small.find("boathouse dimmer"), 16, "a small dimmer");
  small.replace(small.find("\"rated_current_a\": 2"), 20, "\"rated_current_a\": 1");
  place.write("small.json", small);
  ASSERT_EQ(place.run({"channels", "add", "dimmer.json", "small.json"}).status, 0);
  const Outcome outcome = place.run({"recommend", "kettle"});
  ASSERT_EQ(outcome.status, 0) << outcome.err;
  EXPECT_EQ(outcome.out.find("kettle: 2 of 2 channels take it, best boathouse dimmer: "), 0U) << outcome.out;
  const Json list = Json::parse(place.run({"recommend", "kettle", "--json"}).out)["recommendations"];
  ASSERT_EQ(list.size(), 2U);
  EXPECT_EQ(list[0]["channel"], "boathouse dimmer");
  EXPECT_GT(list[0]["max_lamps"].get<int>(), list[1]["max_lamps"].get<int>());
}

TEST_F(Many, ATableFollowsTheCount) {
  const Json recommendation = Json::parse(
      place.run({"recommend", "kettle", "--channel", "dimmer.json", "--table", "5", "--json"}).out)["recommendation"];
  const Json& table = recommendation["table"];
  ASSERT_EQ(table.size(), 5U);
  for (std::size_t i = 0; i < 5; ++i) {
    EXPECT_EQ(table[i]["lamps"], i + 1);
    EXPECT_EQ(table[i]["holds"], static_cast<int>(i) + 1 <= recommendation["max_lamps"].get<int>()) << i + 1;
    for (const Json& one : table[i]["constraints"]) {
      EXPECT_EQ(keys(one), (Keys{"name", "value", "value_nominal", "limit", "unit", "holds"}));
    }
  }
  EXPECT_EQ(Json::parse(place.run({"recommend", "kettle", "--channel", "dimmer.json", "--table", "100", "--json"})
                            .out)["recommendation"]["table"]
                .size(),
            12U);
  const Outcome shown = place.run({"recommend", "kettle", "--channel", "dimmer.json", "--table", "5"});
  EXPECT_NE(shown.out.find("only with central values"), std::string::npos) << shown.out;
}

TEST_F(Many, LampsForAChannelComeFromStoredFigures) {
  store_lamp(place, "iron", "resistor", "", {60.0});
  place.write_resistor_capture("hob.csv", 250.0);
  ASSERT_EQ(place.run({"import", "hob.csv", "--lamp", "hob"}).status, 0);
  const Outcome outcome = place.run({"recommend", "--channel", "dimmer.json"});
  EXPECT_EQ(outcome.status, 0) << outcome.err;
  EXPECT_EQ(outcome.out.find("boathouse dimmer: 1 of 2 lamps suits it\n"), 0U) << outcome.out;
  const Json document = Json::parse(place.run({"recommend", "--channel", "dimmer.json", "--json"}).out);
  EXPECT_EQ(keys(document), (Keys{"channel", "lamps", "not_looked_at", "not_checked"}));
  ASSERT_EQ(document["lamps"].size(), 2U);
  const Json& kettle = document["lamps"][0];
  EXPECT_EQ(keys(kettle), (Keys{"lamp", "family", "mode", "max_lamps", "max_lamps_nominal", "limited_by", "trust"}));
  EXPECT_EQ(kettle["trust"], "own");
  EXPECT_EQ(kettle["lamp"], "kettle");
  const Json full =
      Json::parse(place.run({"recommend", "kettle", "--channel", "dimmer.json", "--json"}).out)["recommendation"];
  EXPECT_EQ(kettle["max_lamps"], full["max_lamps"]) << "a resistor is in proportion";
  EXPECT_EQ(kettle["limited_by"], full["limited_by"]);
  EXPECT_EQ(document["lamps"][1]["mode"], "none") << "60 Ohm are 3.8 A";
  ASSERT_EQ(document["not_looked_at"].size(), 1U);
  EXPECT_EQ(document["not_looked_at"][0]["lamp"], "hob");
}

TEST_F(Many, NamingNothingIsAFaultOfTheCommandLine) {
  const Outcome outcome = place.run({"recommend"});
  EXPECT_EQ(outcome.status, 2);
  EXPECT_NE(outcome.err.find("neither a lamp nor a channel was named"), std::string::npos) << outcome.err;
  EXPECT_EQ(place.run({"recommend", "--channel", "dimmer.json", "--table", "3"}).status, 2);
}

}  // namespace
}  // namespace lampload::test::many_test
