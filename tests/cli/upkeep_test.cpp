// The library command and the search of lamps, as a person meets them.

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "json_keys.h"
#include "program.h"
#include "stored_lamp.h"

namespace lampload::test::upkeep_test {
namespace {

using Json = nlohmann::ordered_json;

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

TEST(LibraryCommand, ChecksCopiesAndPutsBack) {
  const Workplace place;
  EXPECT_EQ(place.run({"library", "check"}).status, 4);
  store_lamp(place, "stair candle", "resistor", "", {529.0});
  const Json check = Json::parse(place.run({"library", "check", "--json"}).out);
  EXPECT_EQ(keys(check), (Keys{"library", "whole", "lamps", "captures", "fits", "channels", "faults"}));
  EXPECT_EQ(check["whole"], true);
  EXPECT_EQ(place.run({"library", "backup", "copy.db"}).status, 0);
  const Outcome again = place.run({"library", "backup", "copy.db"});
  EXPECT_EQ(again.status, 5);
  EXPECT_TRUE(contains(again.err, "copy.db: is there already, and was left alone")) << again.err;
  ASSERT_EQ(place.run({"remove", "stair candle", "--yes"}).status, 0);
  const Json restored = Json::parse(place.run({"library", "restore", "copy.db", "--json"}).out);
  EXPECT_EQ(restored["kept"].size(), 1U);
  EXPECT_TRUE(contains(place.run({"lamps"}).out, "stair candle"));
  place.write("no.db", "this is no library");
  EXPECT_EQ(place.run({"library", "restore", "no.db"}).status, 5);
  EXPECT_TRUE(contains(place.run({"lamps"}).out, "stair candle"));
  const Outcome saved = place.run({"library", "salvage", "saved.db"});
  EXPECT_EQ(saved.status, 0) << saved.err << saved.out;
  EXPECT_TRUE(contains(place.run({"lamps", "--library", "saved.db"}).out, "stair candle"));
}

TEST(LibraryCommand, MergesAnother) {
  const Workplace desk;
  const Workplace laptop;
  laptop.write_dimmer("dimmer.json");
  store_lamp(desk, "stair candle", "resistor", "", {5290.0});
  store_lamp(laptop, "stair candle", "resistor", "", {529.0});
  store_lamp(laptop, "clubroom pendant", "resistor", "", {600.0});
  ASSERT_EQ(laptop.run({"channels", "add", "dimmer.json"}).status, 0);
  const std::string other = laptop.path("data/lampload/library.db").string();
  const Outcome trial = desk.run({"library", "merge", other, "--dry-run", "--on-conflict", "add", "--json"});
  EXPECT_EQ(desk.run({"lamps", "--csv"}).out.find("pendant"), std::string::npos);
  const Outcome merged = desk.run({"library", "merge", other, "--on-conflict", "add", "--json"});
  ASSERT_EQ(merged.status, 0) << merged.err;
  const Json told = Json::parse(trial.out);
  const Json done = Json::parse(merged.out);
  EXPECT_EQ(keys(done), (Keys{"library", "other", "dry_run", "stored", "lamps", "channels", "keys", "summary"}));
  EXPECT_EQ(keys(done["lamps"][0]), (Keys{"lamp", "outcome", "stored_as", "remark", "trust", "superseded", "refused"}));
  EXPECT_EQ(told["lamps"], done["lamps"]);
  EXPECT_EQ(told["stored"], false);
  EXPECT_EQ(done["stored"], true);
  EXPECT_EQ(done["lamps"][1]["stored_as"], "stair candle (merged)");
  EXPECT_EQ(done["summary"], Json::parse(R"({"new":1,"unchanged":0,"differing":1,"refused":0})"));
  EXPECT_TRUE(contains(desk.run({"channels", "list"}).out, "boathouse dimmer"));
  EXPECT_EQ(desk.run({"library", "check"}).status, 0);
  const Outcome again = desk.run({"library", "merge", other, "--on-conflict", "add"});
  EXPECT_TRUE(contains(again.out, "0 new, 2 unchanged, 0 differing, 0 lamps refused")) << again.out;
  EXPECT_EQ(desk.run({"library", "merge", "none.db"}).status, 5);
}

TEST(LampsCommand, FindsAndLists) {
  const Workplace place;
  place.write_dimmer("dimmer.json");
  store_lamp(place, "stair candle", "resistor", "", {5290.0});
  store_lamp(place, "a \"heater\", 100 kW", "resistor", "", {0.53});
  EXPECT_TRUE(
      contains(place.run({"lamps", "stiar", "candel"}).out, "No lamp is like that. Near to it: 'stair candle'."));
  const std::string suited = place.run({"lamps", "--suits", "dimmer.json", "--csv"}).out;
  EXPECT_TRUE(
      suited.starts_with("name,family,load_law,power_w,voltage_rms_v,captures,fits,time_utc,trust,base,"
                         "technology\nstair candle,resistor,,,,0,1,"))
      << suited;
  EXPECT_FALSE(contains(suited, "heater"));
  EXPECT_TRUE(contains(place.run({"lamps", "heater", "--csv"}).out, "\n\"a \"\"heater\"\", 100 kW\",resistor,"));
  for (const char* power : {"x", "9-5", "-", "5-x"}) {
    const Outcome outcome = place.run({"lamps", std::string("--power=") + power});
    EXPECT_EQ(outcome.status, 2);
    EXPECT_TRUE(contains(outcome.err, "is no power: 8, 5-9, 5- or -9 watts")) << outcome.err;
  }
  EXPECT_TRUE(contains(place.run({"lamps", "--family", "lantern"}).err, "there is no family 'lantern'; known are"));
  EXPECT_EQ(place.run({"lamps", "--csv", "--json"}).status, 2);
}

TEST(LampsCommand, ATerminalShowsTheBeginningOfALongList) {
  const Workplace place;
  for (int i = 0; i < 103; ++i) store_lamp(place, "lamp " + std::to_string(i), "resistor", "", {529.0});
  EXPECT_TRUE(contains(place.run_on_terminal({"lamps"}).out, "... and 3 more; --all shows them"));
  EXPECT_FALSE(contains(place.run_on_terminal({"lamps", "--all"}).out, "more"));
  EXPECT_TRUE(contains(place.run({"lamps"}).out, "lamp 99"));
}

}  // namespace
}  // namespace lampload::test::upkeep_test
