#include "db/plan_file.h"

#include <gtest/gtest.h>

#include "core/error.h"
#include "tests/db/temporary_folder.h"
#include "tests/places.h"

namespace lampload::plan_file_test {
namespace {

constexpr const char* whole = R"({
  "format": "lampload-plan", "format_version": "1.0", "name": "boathouse",
  "boards": [
    {"name": "board", "supply": {"voltage_v": 120, "frequency_hz": 60, "tolerance_percent": 5},
     "breakers": [{"name": "F1", "curve": "C", "rating_a": 16, "stagger_s": 0.05},
                  {"name": "F2", "curve": "B", "rating_a": 10}]}],
  "lamps": [
    {"name": "fan", "family": "inductive", "parameters": {"series_resistance_ohm": 300, "series_inductance_h": 1.5},
     "label_dimmable": false},
    {"name": "candle", "family": "rectifier_capacitor", "load_law": "constant_power",
     "parameters": {"series_resistance_ohm": 70, "rectifier_drop_v": 1.4, "reservoir_capacitance_f": 2e-6,
                    "load_power_w": 5}}],
  "rooms": [
    {"name": "clubroom", "channels": [
      {"name": "pendants", "library_channel": "clubroom dimmer", "breaker": "F1", "mode": "trailing_edge",
       "cable": {"length_m": 20, "conductor_mm2": 1.5}, "starts_with": "evening",
       "lamps": [{"lamp": "pendant", "count": 6}, {"lamp": "candle", "count": 2}]},
      {"name": "fan", "description": {"output": {"kind": "relay"}}, "breaker": "F2",
       "lamps": [{"lamp": "fan", "count": 1}]}]},
    {"name": "racks", "channels": [
      {"name": "strip", "channel_file": "strip.json", "lamps": [{"lamp": "strip", "count": 3}]}]}]
})";

/// The whole plan with one piece of its text replaced.
std::string with(const std::string& piece, const std::string& other) {
  std::string text = whole;
  const std::size_t at = text.find(piece);
  EXPECT_NE(at, std::string::npos) << piece;
  return text.replace(at, piece.size(), other);
}

std::string fault(const std::string& text) {
  try {
    parse_plan(text, "plan.json");
  } catch (const Error& error) {
    EXPECT_EQ(error.code(), ErrorCode::input_refused);
    EXPECT_EQ(error.place().file, "plan.json");
    return error.place().key + ": " + error.message();
  }
  return "accepted";
}

TEST(PlanFile, EveryKeyIsRead) {
  const Plan plan = parse_plan(whole, "plan.json");
  EXPECT_EQ(plan.name, "boathouse");
  ASSERT_EQ(plan.boards.size(), 1U);
  EXPECT_EQ(plan.boards[0].supply->frequency_hz, 60.0);
  EXPECT_EQ(plan.boards[0].breakers[0].breaker.curve, 'C');
  EXPECT_EQ(plan.boards[0].breakers[0].stagger_s, 0.05);
  EXPECT_EQ(plan.boards[0].breakers[1].stagger_s, 0.0);
  ASSERT_EQ(plan.lamps.size(), 2U);
  EXPECT_EQ(plan.lamps[0].lamp.family().name, "inductive");
  EXPECT_EQ(plan.lamps[0].lamp.parameters(), (std::vector<double>{300.0, 1.5}));
  EXPECT_EQ(plan.lamps[0].label_dimmable, false);
  EXPECT_FALSE(plan.lamps[1].label_dimmable);
  ASSERT_EQ(plan.rooms.size(), 2U);
  const PlanChannel& pendants = plan.rooms[0].channels[0];
  EXPECT_EQ(pendants.in_library, "clubroom dimmer");
  EXPECT_EQ(pendants.breaker, "F1");
  EXPECT_EQ(pendants.mode, Mode::trailing_edge);
  EXPECT_EQ(pendants.starts_with, "evening");
  EXPECT_EQ(pendants.cable->length_m, 20.0);
  ASSERT_EQ(pendants.lamps.size(), 2U);
  EXPECT_EQ(pendants.lamps[0].lamp, "pendant");
  EXPECT_EQ(pendants.lamps[0].count, 6);
  const PlanChannel& fan = plan.rooms[0].channels[1];
  ASSERT_TRUE(fan.described);
  EXPECT_EQ(fan.described->name, "fan");
  EXPECT_EQ(fan.described->supply.voltage_v, 120.0) << "of the board";
  EXPECT_EQ(fan.described->supply.tolerance_percent, 5.0);
  EXPECT_EQ(plan.rooms[1].channels[0].file, "strip.json");
  EXPECT_FALSE(plan.rooms[1].channels[0].mode);
}

TEST(PlanFile, FaultsAreNamedWithTheirPlace) {
  EXPECT_EQ(fault(with("lampload-plan", "lampload-channel")),
            "format: \"lampload-plan\" was expected, here is \"lampload-channel\"");
  EXPECT_EQ(fault(with("\"1.0\"", "\"2.0\"")),
            "format_version: this program knows version \"1.0\", the file has \"2.0\"");
  EXPECT_EQ(fault(with("\"stagger_s\"", "\"stager_s\"")),
            "boards[0].breakers[0].stager_s: is not a known key; the nearest is 'stagger_s'");
  EXPECT_EQ(fault(with("\"curve\": \"C\"", "\"curve\": \"K\"")),
            "boards[0].breakers[0].curve: \"B\", \"C\" or \"D\" was expected, here is \"K\"");
  EXPECT_EQ(fault(with("\"count\": 6", "\"count\": 0")),
            "rooms[0].channels[0].lamps[0].count: 0 is outside 1 to 10000");
  EXPECT_EQ(fault(with("\"count\": 6", "\"count\": 2.5")),
            "rooms[0].channels[0].lamps[0].count: a whole number was expected, here is 2.5");
  EXPECT_EQ(fault(with("\"breaker\": \"F1\"", "\"breaker\": \"F11\"")),
            "rooms[0].channels[0].breaker: no board has a breaker 'F11'; the nearest are 'F1', 'F2'");
  EXPECT_EQ(fault(with("\"trailing_edge\"", "\"trailing\"")).substr(0, 27), "rooms[0].channels[0].mode: ");
  EXPECT_EQ(fault(with("{\"name\": \"F2\"", "{\"name\": \"F1\"")),
            "boards[0].breakers[1].name: the plan has another breaker of the name 'F1'");
  EXPECT_EQ(fault(with("{\"name\": \"strip\"", "{\"name\": \"fan\"")),
            "rooms[1].channels[0].name: the plan has another channel of the name 'fan'");
  EXPECT_EQ(fault(with("[{\"lamp\": \"strip\", \"count\": 3}]", "[]")),
            "rooms[1].channels[0].lamps: at least one lamp was expected");
  EXPECT_EQ(fault(with("[{\"lamp\": \"strip\", \"count\": 3}]", "{}")),
            "rooms[1].channels[0].lamps: a list of objects was expected, here is an object");
  EXPECT_EQ(fault(R"({"format":"lampload-plan","format_version":"1.0","name":"x","rooms":[]})"),
            "rooms: no room has a channel");
}

TEST(PlanFile, AChannelIsSaidOnce) {
  EXPECT_EQ(fault(with("\"channel_file\": \"strip.json\", ", "")),
            "rooms[1].channels[0].library_channel: is missing, and so are channel_file and description");
  EXPECT_EQ(fault(with("\"channel_file\": \"strip.json\", ", "\"channel_file\": \"a\", \"library_channel\": \"b\", ")),
            "rooms[1].channels[0].channel_file: library_channel is there already");
  EXPECT_EQ(fault(with("{\"output\": {\"kind\": \"relay\"}}", "{\"output\": {\"kind\": \"relay\"}, \"breaker\": {}}"))
                .substr(0, 47),
            "rooms[0].channels[1].description.breaker: is no");
  EXPECT_EQ(
      fault(with("{\"output\": {\"kind\": \"relay\"}}, \"breaker\": \"F2\"", "{\"output\": {\"kind\": \"relay\"}}"))
          .substr(0, 41),
      "rooms[0].channels[1].description.supply: ")
      << "without a board nobody says what the mains are";
}

TEST(PlanFile, ALampOfThePlanIsHeldAgainstItsFamily) {
  EXPECT_EQ(fault(with("\"inductive\"", "\"inductiv\"")).substr(0, 41), "lamps[0].family: no lamp family 'inductiv");
  EXPECT_EQ(fault(with("\"series_inductance_h\": 1.5", "\"series_inductance_h\": 1500")),
            "lamps[0].parameters.series_inductance_h: 1500 is outside 1e-06 to 100");
  EXPECT_EQ(fault(with(", \"series_inductance_h\": 1.5", "")), "lamps[0].parameters.series_inductance_h: is missing");
  EXPECT_EQ(fault(with("\"series_inductance_h\": 1.5", "\"inductance_h\": 1.5")),
            "lamps[0].parameters.inductance_h: is not a known key; the nearest is 'series_inductance_h'");
  const Plan plan = parse_plan(whole, "plan.json");
  const Lamp& candle = plan.lamps[1].lamp;
  EXPECT_EQ(candle.parameters().size(), candle.family().parameters.size()) << "optional ones take their absent value";
}

TEST(PlanFile, TheBoathouseIsAPlan) {
  for (const char* name : {"boathouse_plan.json", "boathouse_plan_draft.json"}) {
    const Plan plan = read_plan_file(test::samples_folder() + name);
    EXPECT_EQ(plan.rooms.size(), 5U) << name;
  }
  EXPECT_THROW(read_plan_file("no such plan.json"), Error);
}

}  // namespace
}  // namespace lampload::plan_file_test
