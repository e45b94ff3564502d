// The command line: what is refused, with which exit status, and what a refusal leaves behind.

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "program.h"

namespace lampload::test::usage_test {
namespace {

namespace fs = std::filesystem;

TEST(Usage, NonsenseIsStatusTwo) {
  Workplace place;
  place.write_resistor_capture("kettle.csv");
  for (const std::vector<std::string>& words : std::vector<std::vector<std::string>>{
           {},
           {"dance"},
           {"inspect"},
           {"inspect", "kettle.csv", "--loud"},
           {"inspect", "kettle.csv", "--voltage-scale", "much"},
           {"inspect", "kettle.csv", "--voltage-scale", "inf"},
           {"inspect", "kettle.csv", "--sample-interval", "-1"},
           {"inspect", "kettle.csv", "--nominal-frequency", "-50"},
           {"inspect", "kettle.csv", "--label-dimmable", "perhaps"},
           {"characterise", "kettle.csv"},
           {"characterise", "kettle.csv", "--lamp", ""},
           {"channels"},
           {"show"},
       }) {
    const Outcome outcome = place.run(words);
    EXPECT_EQ(outcome.status, 2) << testing::PrintToString(words) << outcome.err;
    EXPECT_NE(outcome.err, "") << testing::PrintToString(words);
    EXPECT_EQ(outcome.out, "") << testing::PrintToString(words);
  }
}

TEST(Usage, AMistypedWordIsOfferedWhatIsNearest) {
  const Workplace place;
  EXPECT_EQ(place.run({"recomend", "pendant"}).err,
            "lampload: there is no command 'recomend'; the nearest is 'recommend'. 'lampload --help' shows what is "
            "understood\n");
  EXPECT_EQ(place.run({"channels", "ad", "dimmer.json"}).err,
            "lampload: there is no command 'ad'; the nearest is 'add'. 'lampload channels --help' shows what is "
            "understood\n");
  EXPECT_EQ(place.run({"lamps", "--libary", "boathouse.lampload"}).err,
            "lampload: The following argument was not expected: --libary; the nearest is '--library'. 'lampload lamps "
            "--help' shows what is understood\n");
  // The word that is missed is the one that was mistyped.
  EXPECT_EQ(
      place.run({"import", "kettle.csv", "--lmap=kettle"}).err,
      "lampload: --lamp is required; there is no option '--lmap=kettle'; the nearest is '--lamp'. 'lampload import "
      "--help' shows what is understood\n");
  // Nothing is near: nothing is offered.
  EXPECT_EQ(place.run({"zzzzzzzz"}).err,
            "lampload: there is no command 'zzzzzzzz'. 'lampload --help' shows what is understood\n");
}

TEST(Usage, ErrorsAreOneDocumentWithJson) {
  Workplace place;
  place.write("torn.csv", "time,voltage\n0,1\n");
  struct Case {
    std::vector<std::string> words;
    int status;
    std::string code;
  };
  for (const Case& c : std::vector<Case>{{{"inspect", "--json"}, 2, "usage"},
                                         {{"inspect", "torn.csv", "--json"}, 3, "input_refused"},
                                         {{"inspect", "absent.csv", "--json"}, 3, "input_refused"}}) {
    const Outcome outcome = place.run(c.words);
    EXPECT_EQ(outcome.status, c.status);
    const auto document = nlohmann::json::parse(outcome.out);
    ASSERT_TRUE(document.contains("error")) << outcome.out;
    for (const char* key : {"code", "message", "file", "line", "column", "key", "remedy"}) {
      EXPECT_TRUE(document["error"].contains(key)) << key;
    }
    EXPECT_EQ(document["error"]["code"], c.code);
  }
}

TEST(Usage, NegativeNumbersAreValues) {
  Workplace place;
  place.write_resistor_capture("kettle.csv");
  const Outcome outcome =
      place.run({"inspect", "kettle.csv", "--current-delay", "-3e-6", "--voltage-scale", "-1", "--json"});
  EXPECT_EQ(outcome.status, 0) << outcome.out;
}

TEST(Usage, AFileNamedAsACommandIsAFile) {
  Workplace place;
  place.write_resistor_capture("show");
  place.write_resistor_capture("[x,y].csv");
  const Outcome outcome = place.run({"inspect", "show", "[x,y].csv", "--json"});
  ASSERT_EQ(outcome.status, 0) << outcome.out;
  const auto document = nlohmann::json::parse(outcome.out);
  EXPECT_EQ(document["captures"][0]["file"], "show");
  EXPECT_EQ(document["captures"][1]["file"], "[x,y].csv");
}

TEST(Usage, FullOutputIsNotSilent) {
  ASSERT_TRUE(fs::exists("/dev/full")) << "Linux has this device";
  Workplace place;
  place.write_resistor_capture("kettle.csv");
  const std::string command = std::string("cd '") + place.path("").string() + "' && " + program_path() +
                              " inspect kettle.csv --json > /dev/full 2> message";
  EXPECT_NE(std::system(command.c_str()), 0);
  EXPECT_NE(place.read("message").find("standard output"), std::string::npos);
}

TEST(Usage, ALibraryThatIsNoneIsStatusFive) {
  Workplace place;
  place.write("notes.txt", "these are notes about the boathouse, not a library\n");
  const std::string before = place.read("notes.txt");
  for (const std::vector<std::string>& words :
       std::vector<std::vector<std::string>>{{"lamps", "--library", "notes.txt"},
                                             {"show", "x", "--library", "notes.txt"},
                                             {"channels", "list", "--library", "notes.txt"},
                                             {"remove", "x", "--yes", "--library", "notes.txt"},
                                             {"lamps", "--library", "."}}) {
    const Outcome outcome = place.run(words);
    EXPECT_EQ(outcome.status, 5) << testing::PrintToString(words) << outcome.err << outcome.out;
  }
  EXPECT_EQ(place.read("notes.txt"), before);
}

TEST(Usage, NothingStoredYetIsAnEmptyList) {
  const Workplace place;
  EXPECT_EQ(place.run({"lamps"}).status, 0);
  EXPECT_EQ(nlohmann::json::parse(place.run({"lamps", "--json"}).out)["lamps"].size(), 0U);
  EXPECT_EQ(nlohmann::json::parse(place.run({"channels", "list", "--json"}).out)["channels"].size(), 0U);
  EXPECT_EQ(place.run({"show", "kettle"}).status, 4);
  EXPECT_EQ(place.run({"show", "kettle", "--library", "nowhere.db"}).status, 4);
  EXPECT_FALSE(fs::exists(place.path("data")));
  EXPECT_FALSE(fs::exists(place.path("nowhere.db")));
}

}  // namespace
}  // namespace lampload::test::usage_test
