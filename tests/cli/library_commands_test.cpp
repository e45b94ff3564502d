// import, lamps, show, remove, channels: what they keep, and what they leave alone.

#include <gtest/gtest.h>

#include <sstream>

#include "program.h"

namespace lampload::test::library_commands_test {
namespace {

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

class LibraryCommands : public testing::Test {
 protected:
  void SetUp() override {
    place.write_resistor_capture("kettle.csv");
    place.write_resistor_capture("iron.csv", 60.0);
    place.write_dimmer("dimmer.json");
    ASSERT_EQ(place.run({"import", "kettle.csv", "--lamp", "kettle", "--label-dimmable", "no"}).status, 0);
  }

  Workplace place;
};

TEST_F(LibraryCommands, ImportedLampIsListedAndShown) {
  const Outcome listed = place.run({"lamps"});
  EXPECT_EQ(listed.status, 0);
  EXPECT_TRUE(contains(listed.out, "kettle")) << listed.out;
  EXPECT_TRUE(contains(listed.out, "106 W")) << listed.out;  // 230 V squared over 500 ohm: 105.8 W
  EXPECT_FALSE(contains(place.run({"lamps", "candle"}).out, "kettle"));
  const Outcome shown = place.run({"show", "kettle"});
  EXPECT_EQ(shown.status, 0);
  EXPECT_TRUE(contains(shown.out, "not fitted yet")) << shown.out;
  EXPECT_TRUE(contains(shown.out, "label says dimmable  no")) << shown.out;
}

TEST_F(LibraryCommands, UnknownNamesAreStatusFour) {
  for (const std::vector<std::string>& words : std::vector<std::vector<std::string>>{
           {"show", "ketle"},
           {"fit", "ketle"},
           {"remove", "ketle", "--yes"},
           {"recommend", "ketle", "--channel", "dimmer.json"},
           {"recommend", "kettle", "--channel", "no such dimmer"},
           {"recommend", "kettle"},
           {"channels", "show", "no such dimmer"},
           {"channels", "remove", "no such dimmer", "--yes"},
           {"characterise", "iron.csv", "--lamp", "iron", "--channel", "no such dimmer"},
       }) {
    const Outcome outcome = place.run(words);
    EXPECT_EQ(outcome.status, 4) << testing::PrintToString(words) << outcome.err;
  }
  EXPECT_TRUE(contains(place.run({"show", "ketle"}).err, "kettle")) << "the nearest name is told";
  EXPECT_FALSE(contains(place.run({"lamps"}).out, "iron"));
}

TEST_F(LibraryCommands, ARefusedFileStoresNothingOfTheRest) {
  place.write("torn.csv", "time,voltage,current\n0,1,2\n0.1,x,3\n");
  const std::string before = place.run({"show", "kettle", "--json"}).out + place.run({"lamps", "--json"}).out;
  for (const char* command : {"import", "characterise"}) {
    const Outcome outcome = place.run({command, "iron.csv", "torn.csv", "--lamp", "kettle"});
    EXPECT_EQ(outcome.status, 3) << command;
    EXPECT_TRUE(contains(outcome.err, "torn.csv")) << outcome.err;
  }
  EXPECT_EQ(place.run({"import", "iron.csv", "torn.csv", "--lamp", "iron"}).status, 3);
  EXPECT_EQ(place.run({"show", "kettle", "--json"}).out + place.run({"lamps", "--json"}).out, before);
}

TEST_F(LibraryCommands, ADcTableIsStoredWithTheLamp) {
  place.write("dc.csv", "voltage_v,current_a,uncertainty\n10,0.02,\n230,0.46,0.005\n");
  ASSERT_EQ(place.run({"import", "kettle.csv", "--lamp", "kettle", "--dc-table", "dc.csv"}).status, 0);
  const std::string shown = place.run({"show", "kettle", "--json"}).out;
  EXPECT_TRUE(contains(shown, "dc_points")) << shown;
  EXPECT_TRUE(contains(shown, "\"uncertainty_a\": 0.005")) << shown;
  EXPECT_TRUE(contains(place.run({"show", "kettle"}).out, "DC table             2 points"));
  const Outcome fitted = place.run({"fit", "kettle", "--report"});
  EXPECT_EQ(fitted.status, 0) << fitted.err;
  EXPECT_TRUE(contains(fitted.out, "The DC table lies")) << fitted.out;
}

TEST_F(LibraryCommands, ADcTableThatDisagreesIsSaidWithoutTheReport) {
  place.write("dc.csv", "voltage_v,current_a\n100,0.4\n230,0.92\n");  // half the kettle's 500 Ohm
  const Outcome fitted = place.run({"fit", "kettle", "--dc-table", "dc.csv"});
  EXPECT_EQ(fitted.status, 0) << fitted.err;
  EXPECT_TRUE(contains(fitted.out, "it disagrees")) << fitted.out;
  EXPECT_TRUE(contains(place.run({"fit", "kettle", "--json"}).out, "disagrees and was left out"));
}

TEST_F(LibraryCommands, ARefusedDcTableStoresNothing) {
  place.write("torn.csv", "voltage_v,current_a\n1,0.1\n2,x\n");
  const auto library = [&] { return place.run({"show", "kettle", "--json"}).out + place.run({"lamps", "--json"}).out; };
  const std::string before = library();
  for (const std::vector<std::string>& words : std::vector<std::vector<std::string>>{
           {"fit", "kettle", "--dc-table", "torn.csv"},
           {"import", "iron.csv", "--lamp", "iron", "--dc-table", "torn.csv"},
           {"characterise", "iron.csv", "--lamp", "kettle", "--dc-table", "torn.csv"}}) {
    const Outcome outcome = place.run(words);
    EXPECT_EQ(outcome.status, 3) << testing::PrintToString(words);
    for (const char* part : {"torn.csv:3", "current_a", "a number was expected, found 'x'", "Correct or remove"}) {
      EXPECT_TRUE(contains(outcome.err, part)) << part << ": " << outcome.err;
    }
  }
  EXPECT_EQ(place.run({"fit", "kettle", "--dc-table", "nowhere.csv"}).status, 3);
  EXPECT_EQ(library(), before);
}

TEST_F(LibraryCommands, ARefusedChannelStoresNothing) {
  place.write("broken.json", R"({"format":"lampload-channel","format_version":"1.0","name":"x"})");
  EXPECT_EQ(place.run({"characterise", "iron.csv", "--lamp", "iron", "--channel", "broken.json"}).status, 3);
  EXPECT_EQ(place.run({"channels", "add", "dimmer.json", "broken.json"}).status, 3);
  EXPECT_TRUE(contains(place.run({"channels", "list"}).out, "No channels"));
  EXPECT_FALSE(contains(place.run({"lamps"}).out, "iron"));
}

TEST_F(LibraryCommands, RemoveNeedsAnAnswer) {
  EXPECT_EQ(place.run({"remove", "kettle"}).status, 2);
  const Outcome kept = place.run_on_terminal({"remove", "kettle"}, "n\n");
  EXPECT_EQ(kept.status, 0);
  EXPECT_TRUE(contains(kept.out, "Remove kettle with 1 capture and 0 fits?")) << kept.out;
  EXPECT_TRUE(contains(place.run({"lamps"}).out, "kettle"));
  EXPECT_EQ(place.run_on_terminal({"remove", "kettle"}, "y\n").status, 0);
  EXPECT_FALSE(contains(place.run({"lamps"}).out, "kettle"));
}

TEST_F(LibraryCommands, ChannelFileComesBackAsItWent) {
  ASSERT_EQ(place.run({"channels", "add", "dimmer.json"}).status, 0);
  const Outcome shown = place.run({"channels", "show", "boathouse dimmer"});
  place.write("again.json", shown.out);
  ASSERT_EQ(place.run({"channels", "add", "again.json"}).status, 0);
  EXPECT_EQ(place.run({"channels", "show", "boathouse dimmer"}).out, shown.out);
  EXPECT_TRUE(contains(place.run({"channels", "list"}).out, "phase cut"));
}

TEST_F(LibraryCommands, AFileForEachChannelIsOneCapture) {
  std::string voltage = "time (s),voltage (V)\n";
  std::string current = "time (s),current (A)\n";
  std::istringstream rows(place.read("iron.csv"));
  std::string row;
  std::getline(rows, row);
  while (std::getline(rows, row)) {
    const std::size_t first = row.find(',');
    const std::size_t second = row.find(',', first + 1);
    voltage += row.substr(0, second) + "\n";
    current += row.substr(0, first) + row.substr(second) + "\n";
  }
  place.write("u.csv", voltage);
  place.write("i.csv", current);
  const Outcome outcome = place.run({"import", "u.csv+i.csv", "--lamp", "iron"});
  EXPECT_EQ(outcome.status, 0) << outcome.err;
  EXPECT_TRUE(contains(outcome.out, "881 W")) << outcome.out;  // 230 V squared over 60 ohm: 881.7 W, in steps
}

TEST_F(LibraryCommands, TheLibraryOptionNamesTheFile) {
  ASSERT_EQ(place.run({"import", "iron.csv", "--lamp", "iron", "--library", "other.db"}).status, 0);
  EXPECT_TRUE(contains(place.run({"lamps", "--library", "other.db"}).out, "iron"));
  EXPECT_FALSE(contains(place.run({"lamps"}).out, "iron"));
}

}  // namespace
}  // namespace lampload::test::library_commands_test
