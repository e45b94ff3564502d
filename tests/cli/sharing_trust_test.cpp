// Who stands for what of a lamp that came from elsewhere, and what no output may take the place of.

#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>

#include "sharing_places.h"

namespace lampload::test::sharing_trust_test {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::json;

class SharingTrust : public TwoInstallers {};

TEST_F(SharingTrust, AReceivedLampGoesOnAsItCameAlsoWithAnotherLabel) {
  hand_over();
  receive();
  EXPECT_EQ(taker.run({"share", "heater", "-o", "on.json"}).err.find("its label"), std::string::npos);
  ASSERT_EQ(taker.run({"import", "--lamp", "heater", "--base", "E27"}).status, 0);
  const Outcome again = taker.run({"share", "heater", "-o", "again.json"});
  EXPECT_EQ(again.status, 0);
  EXPECT_NE(again.err.find("what its label is taken to say"), std::string::npos) << again.err;
  EXPECT_EQ(taker.read("again.json"), taker.read("on.json"));
}

TEST_F(SharingTrust, NobodyStandsForAFitThatWasMadeHere) {
  hand_over({"--sign", "boathouse", "--captures", "--contributor", "the boathouse"});
  receive();
  ASSERT_EQ(taker.run({"keys", "accept", public_key, "--name", "A"}).status, 0);
  ASSERT_EQ(taker.run({"keys", "make", "own"}).status, 0);
  ASSERT_EQ(taker.run({"fit", "heater", "--rated-power", "60"}).status, 0);
  EXPECT_EQ(parsed(taker.run({"lamps", "--json"}))["lamps"][0]["trust"], "accepted_captures");
  EXPECT_NE(taker.run({"lamps"}, {{"COLUMNS", "400"}}).out.find("fitted here, accepted signer's captures"),
            std::string::npos);
  const std::string shown = taker.run({"show", "heater"}, {{"COLUMNS", "400"}}).out;
  EXPECT_NE(shown.find("The signature is on those captures, not on this circuit"), std::string::npos) << shown;
  EXPECT_EQ(shown.find("who stands for it"), std::string::npos) << shown;

  // What was received keeps its licence and its contributor, also signed by somebody else.
  Outcome outcome =
      taker.run({"share", "heater", "-o", "on.json", "--sign", "own", "--captures"}, {{"COLUMNS", "400"}});
  EXPECT_NE(outcome.err.find("has captures received from 'the boathouse', which go on under their licence, 'CC0-1.0'"),
            std::string::npos)
      << outcome.err;
  json::Json lamp = json::Json::parse(taker.read("on.json"))["lamps"][0];
  EXPECT_EQ(lamp["licence"], "CC0-1.0");
  EXPECT_EQ(lamp["contributor"]["name"], "captures: the boathouse");
  outcome = taker.run({"share", "heater", "-o", "own.json", "--licence", "CC-BY-4.0", "--contributor", "me"},
                      {{"COLUMNS", "400"}});
  EXPECT_NE(outcome.err.find("under the licence 'CC0-1.0', and 'CC-BY-4.0' was given for it; see that you may"),
            std::string::npos)
      << outcome.err;
  lamp = json::Json::parse(taker.read("own.json"))["lamps"][0];
  EXPECT_EQ(lamp["licence"], "CC-BY-4.0");
  EXPECT_EQ(lamp["contributor"]["name"], "me; captures: the boathouse");
}

TEST_F(SharingTrust, NoOutputTakesThePlaceOfALibraryAKeyOrSomebodysLamps) {
  hand_over({"--sign", "boathouse"});
  receive();
  ASSERT_EQ(taker.run({"keys", "make", "own"}).status, 0);
  ASSERT_EQ(taker.run({"library", "backup", "copy.db"}).status, 0);
  fs::copy_file(taker.path("data/lampload/keys/own.key"), taker.path("own.copy"));
  taker.write_resistor_capture("radiator.csv", 700.0);
  ASSERT_EQ(taker.run({"characterise", "radiator.csv", "--lamp", "radiator"}).status, 0);
  struct Case {
    std::string file;
    const char* answer;
  };
  for (const Case& one :
       {Case{"data/lampload/library.db", "is a library or another SQLite database, and was left alone"},
        Case{"copy.db", "is a library or another SQLite database, and was left alone"},
        Case{"data/lampload/keys/own.key", "is a key that signs, and was left alone"},
        Case{"own.copy", "is a key that signs, and was left alone"},
        Case{"data/lampload/keys/new.txt", "lies in the folder of the keys that sign"},
        Case{"-", "'-' is not a place to write to"}}) {
    const std::string before = fs::exists(taker.path(one.file)) ? taker.read(one.file) : "";
    for (std::vector<std::string> words : {std::vector<std::string>{"share", "radiator", "-o"},
                                           {"spice", "heater", "-o"},
                                           {"report", "heater", "-o"},
                                           {"show", "heater", "--record", "--output"}}) {
      words.push_back(one.file);
      const Outcome outcome = taker.run(words, {{"COLUMNS", "400"}});
      EXPECT_EQ(outcome.status, 3) << words[0] << " " << one.file;
      EXPECT_NE(outcome.err.find(one.answer), std::string::npos) << outcome.err;
    }
    EXPECT_EQ(fs::exists(taker.path(one.file)) ? taker.read(one.file) : "", before) << one.file;
  }
  const std::string before = taker.read("heater.json");
  Outcome outcome = taker.run({"share", "radiator", "-o", "heater.json"}, {{"COLUMNS", "400"}});
  EXPECT_EQ(outcome.status, 3);
  EXPECT_NE(outcome.err.find("heater.json: holds 'heater', signed with key "), std::string::npos) << outcome.err;
  EXPECT_EQ(taker.read("heater.json"), before);
  EXPECT_EQ(taker.run({"share", "radiator", "heater", "-o", "heater.json"}).status, 0);  // it is in there still
}

TEST_F(SharingTrust, ARevokedSignerIsWarnedOfWhereverTheLampIsUsed) {
  hand_over({"--sign", "boathouse"});
  receive();
  ASSERT_EQ(taker.run({"keys", "revoke", public_key, "--reason", "stolen"}).status, 0);
  const Environment wide = {{"COLUMNS", "400"}};
  taker.write("plan.json", R"({"format":"lampload-plan","format_version":"1.0","name":"p","rooms":[{"name":"r",
    "channels":[{"name":"c","channel_file":"dimmer.json","lamps":[{"lamp":"heater","count":1}]}]}]})");
  EXPECT_TRUE(taker.run({"plan", "plan.json"}, wide).out.starts_with("Caution: 'heater' was not measured here, and"));
  ASSERT_EQ(taker.run({"report", "heater", "-o", "r.html"}).status, 0);
  const std::string page = taker.read("r.html");
  const std::size_t caution = page.find("that signed it was revoked, because: stolen");
  EXPECT_LT(caution, page.find("The captures"));
  EXPECT_EQ(page.find("An earlier version made this fit and kept no report"), std::string::npos);
  EXPECT_NE(taker.run({"catalogue", "-o", "site"}, wide).err.find("Its page says so, and has no model file"),
            std::string::npos);
  EXPECT_TRUE(fs::is_empty(taker.path("site/models")));
  EXPECT_NE(taker.read("site/lamps.js").find("do not rely on it: its signer was revoked"), std::string::npos);
  for (const std::vector<std::string>& words : {std::vector<std::string>{"share", "heater", "-o", "on.json"},
                                                {"share", "--all", "--folder", "lamps"},
                                                {"show", "heater", "--record"}}) {
    EXPECT_NE(taker.run(words, wide).err.find("that signed it was revoked: do not rely on it"), std::string::npos)
        << words[0];
  }
  const Outcome accepted = taker.run({"keys", "accept", public_key, "--name", "other"}, wide);
  EXPECT_NE(accepted.err.find("because: stolen. From now on it is accepted"), std::string::npos) << accepted.err;
}

TEST_F(SharingTrust, WhatIsMissingOfAReceivedLampCanBeHad) {
  hand_over();
  receive();
  hand_over({"--captures"});
  const Json known = receive();
  EXPECT_EQ(known["summary"]["unchanged"], 1);
  EXPECT_EQ(known["files"][0]["lamps"][0]["remark"],
            "stored as 'heater'; its captures lack the samples that this file has. '--on-conflict replace' takes the "
            "file's in its place");
  taker.write("heater.csv", giver.read("heater.csv"));
  Outcome outcome = taker.run({"import", "heater.csv", "--lamp", "heater"});
  EXPECT_NE(outcome.out.find("of 1 only the figures had come, and now its samples are here too"), std::string::npos)
      << outcome.out;
  outcome = taker.run({"import", "heater.csv", "--lamp", "heater"});
  EXPECT_NE(outcome.out.find("1 was stored already, and left as it was"), std::string::npos) << outcome.out;
  // The record is still all there is of it, and whoever measured is still named.
  EXPECT_EQ(taker.run({"share", "heater", "-o", "again.json"}).status, 0);
  EXPECT_EQ(taker.run({"show", "heater", "--csv", "1", "--output", "x.csv"}).status, 0);
  const Json captures = parsed(taker.run({"show", "heater", "--json"}))["basis"]["captures"];
  EXPECT_EQ(captures[0]["samples_here"], true);
  EXPECT_EQ(taker.run({"fit", "heater"}).status, 0);
  EXPECT_EQ(parsed(taker.run({"lamps", "--json"}))["lamps"][0]["trust"], "unsigned");
}

TEST_F(SharingTrust, TwoLampsOfOneNameGoIntoTwoFiles) {
  hand_over();
  taker.write_resistor_capture("own.csv", 700.0);
  ASSERT_EQ(taker.run({"characterise", "own.csv", "--lamp", "heater", "--cold-resistance", "703"}).status, 0);
  receive({"--on-conflict", "add"});
  const Outcome outcome = taker.run({"share", "--all", "-o", "all.json"}, {{"COLUMNS", "400"}});
  EXPECT_EQ(outcome.status, 3);
  EXPECT_NE(outcome.err.find("'heater' and 'heater (received)' would both be called 'heater' in the file"),
            std::string::npos)
      << outcome.err;
  EXPECT_EQ(taker.run({"share", "--all", "--folder", "lamps"}).status, 0);
}

TEST_F(SharingTrust, WhatALabelSaysCanBeTakenBack) {
  ASSERT_EQ(giver.run({"import", "--lamp", "heater", "--base", "GU10", "--technology", "halogen"}).status, 0);
  const Outcome done = giver.run({"import", "--lamp", "heater", "--forget", "base", "--forget", "rated-power"});
  EXPECT_EQ(done.status, 0) << done.err;
  EXPECT_NE(done.out.find("heater: forgot what was named"), std::string::npos) << done.out;
  const Json nominal = parsed(giver.run({"show", "heater", "--json"}))["nominal"];
  EXPECT_TRUE(nominal["base"].is_null());
  EXPECT_TRUE(nominal["rated_power_w"].is_null());
  EXPECT_EQ(nominal["technology"], "halogen");
  const Outcome both = giver.run({"import", "--lamp", "heater", "--forget", "technology", "--technology", "led"});
  EXPECT_EQ(both.status, 2);
  EXPECT_NE(both.err.find("--forget technology and --technology contradict each other"), std::string::npos) << both.err;
  const Outcome unknown = giver.run({"import", "--lamp", "heater", "--forget", "lantern"});
  EXPECT_EQ(unknown.status, 2);
  EXPECT_NE(unknown.err.find("--forget: 'lantern' is none of nominal-voltage, "), std::string::npos) << unknown.err;
  EXPECT_EQ(giver.run({"import", "--lamp", "nobody", "--forget", "base"}).status, 2);
  EXPECT_EQ(parsed(giver.run({"show", "heater", "--json"}))["nominal"]["technology"], "halogen");
}

}  // namespace
}  // namespace lampload::test::sharing_trust_test
