// The published description of the plan file says what the program does.

#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "db/plan_file.h"
#include "db/plan_keys.h"
#include "tests/places.h"

namespace lampload::plan_schema_test {
namespace {

namespace keys = plan_keys;
using Json = nlohmann::json;

const std::string formats = test::source_folder() + "/docs/formats/";

Json schema() { return Json::parse(std::ifstream(formats + "plan.schema.json")); }

std::string page() {
  std::ostringstream text;
  text << std::ifstream(formats + "plan.md").rdbuf();
  return text.str();
}

template <class Names>
void expect_keys(const Json& object, const Names& names) {
  std::set<std::string> found;
  for (const auto& [name, value] : object["properties"].items()) {
    found.insert(name);
    EXPECT_NE(page().find("| `" + name + "` |"), std::string::npos) << name << " is not on the page";
  }
  EXPECT_EQ(found, std::set<std::string>(names.begin(), names.end()));
  EXPECT_EQ(object["additionalProperties"], false);
}

TEST(PlanSchema, HasTheKeysOfTheProgramAndThePageDescribesThem) {
  const Json top = schema();
  expect_keys(top, keys::top);
  const Json& board = top["properties"]["boards"]["items"];
  expect_keys(board, keys::board);
  const Json& breaker = board["properties"]["breakers"]["items"];
  expect_keys(breaker, keys::breaker);
  EXPECT_EQ(breaker["properties"]["stagger_s"]["maximum"], keys::longest_stagger_s);
  expect_keys(top["properties"]["lamps"]["items"], keys::lamp);
  const Json& room = top["properties"]["rooms"]["items"];
  EXPECT_EQ(room["properties"].size(), keys::room.size());
  const Json& channel = room["properties"]["channels"]["items"];
  expect_keys(channel, keys::channel);
  EXPECT_EQ(channel["properties"]["description"]["properties"].size(), keys::description.size());
  EXPECT_EQ(channel["properties"]["mode"]["enum"].get<std::vector<std::string>>(),
            std::vector<std::string>(keys::modes.begin(), keys::modes.end()));
  for (std::size_t i = 0; i < keys::modes.size(); ++i) EXPECT_EQ(mode_name(static_cast<Mode>(i)), keys::modes.at(i));
  const Json& load = channel["properties"]["lamps"]["items"];
  expect_keys(load, keys::load);
  EXPECT_EQ(load["properties"]["count"]["maximum"], keys::most_lamps);
}

TEST(PlanSchema, TheExampleOfThePageIsAPlan) {
  const std::string text = page();
  const std::size_t start = text.find("```json\n") + 8;
  const Plan plan = parse_plan(text.substr(start, text.find("```", start) - start), "docs/formats/plan.md");
  EXPECT_EQ(plan.name, "boathouse stairs");
  EXPECT_EQ(plan.rooms.at(0).channels.at(1).described->supply.source_resistance_ohm, 0.4);
}

}  // namespace
}  // namespace lampload::plan_schema_test
