// The published description of the lamp model file says what the program does.

#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "db/lamp_file.h"
#include "db/lamp_file_keys.h"
#include "tests/places.h"

namespace lampload::lamp_schema_test {
namespace {

using Json = nlohmann::json;
using lamp_keys::Kind;

const std::string formats = test::source_folder() + "/docs/formats/";

std::string page() {
  std::ostringstream text;
  text << std::ifstream(formats + "lamp.md").rdbuf();
  return text.str();
}

void expect_shape(const Json& document, const Json& object, lamp_keys::Shape shape, const std::string& path) {
  EXPECT_EQ(object["additionalProperties"], false) << path;
  EXPECT_EQ(object["properties"].size(), shape.size()) << path;
  const auto required = object["required"].get<std::vector<std::string>>();
  for (const lamp_keys::Key& key : shape) {
    const std::string name(key.name);
    const std::string here = path + "." + name;
    ASSERT_TRUE(object["properties"].contains(name)) << here;
    const Json& property = object["properties"][name];
    EXPECT_EQ(std::find(required.begin(), required.end(), name) != required.end(), key.required) << here;
    if (key.kind == Kind::number || key.kind == Kind::whole) {
      EXPECT_EQ(property["minimum"], key.lower) << here;
      EXPECT_EQ(property["maximum"], key.upper) << here;
      EXPECT_EQ(property["type"], key.kind == Kind::whole ? "integer" : "number") << here;
    }
    if (key.kind == Kind::choice) {
      EXPECT_EQ(property["enum"].get<std::vector<std::string>>(),
                std::vector<std::string>(key.choices.begin(), key.choices.end()))
          << here;
    }
    if (key.shape.empty()) continue;
    const Json& to = key.kind == Kind::objects ? property["items"] : property;
    const std::string reference = to["$ref"];
    expect_shape(document, document["$defs"][reference.substr(std::string("#/$defs/").size())], key.shape, here);
  }
}

TEST(LampSchema, HasTheKeysAndBoundsOfTheProgram) {
  const Json document = Json::parse(std::ifstream(formats + "lamp.schema.json"));
  expect_shape(document, document, lamp_keys::document, "");
}

TEST(LampSchema, ThePageDescribesEveryKey) {
  const std::string text = page();
  const Json document = Json::parse(std::ifstream(formats + "lamp.schema.json"));
  for (const auto& [object, value] : document["$defs"].items()) {
    for (const auto& [name, property] : value["properties"].items()) {
      EXPECT_NE(text.find("`" + name + "`"), std::string::npos) << object << "." << name;
    }
  }
}

TEST(LampSchema, TheExampleOfThePageIsALamp) {
  const std::string text = page();
  const std::size_t start = text.find("```json\n") + 8;
  const auto lamps = parse_lamp_file(text.substr(start, text.find("```", start) - start), "docs/formats/lamp.md");
  ASSERT_EQ(lamps.size(), 1U);
  EXPECT_EQ(lamps[0].lamp.name, "changing-room heater");
}

}  // namespace
}  // namespace lampload::lamp_schema_test
