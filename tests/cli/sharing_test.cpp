// Lamps from one library to another, as installers do it, and what goes wrong on the way.

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>

#include "sharing_places.h"

namespace lampload::test::sharing_test {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::json;

class Sharing : public TwoInstallers {};

TEST_F(Sharing, TellsEverySourceApartInEveryAnswer) {
  const auto expect_source = [&](const std::string& trust, const std::string& words, const std::string& caution) {
    EXPECT_EQ(parsed(taker.run({"lamps", "--json"}))["lamps"][0]["trust"], trust);
    EXPECT_NE(taker.run({"lamps"}).out.find(words), std::string::npos);
    EXPECT_NE(taker.run({"show", "heater"}, {{"COLUMNS", "400"}}).out.find(caution), std::string::npos);
    const Json advice = recommendation();
    EXPECT_EQ(advice["basis"]["trust"], trust);
    EXPECT_NE(advice["cautions"][0].get<std::string>().find(caution), std::string::npos) << advice["cautions"];
    const Outcome text = taker.run({"recommend", "heater", "--channel", "dimmer.json"}, {{"COLUMNS", "400"}});
    EXPECT_NE(text.out.find(caution), std::string::npos) << text.out;
    EXPECT_EQ(parsed(taker.run({"recommend", "--channel", "dimmer.json", "--json"}))["lamps"][0]["trust"], trust);
    taker.write("plan.json", R"({"format":"lampload-plan","format_version":"1.0","name":"p","rooms":[{"name":"r",
      "channels":[{"name":"c","channel_file":"dimmer.json","lamps":[{"lamp":"heater","count":1}]}]}]})");
    const Json plan = parsed(taker.run({"plan", "plan.json", "--json"}));
    EXPECT_NE(plan["channels"][0]["cautions"].dump().find(caution), std::string::npos) << plan["channels"][0];
  };
  hand_over();
  EXPECT_EQ(receive()["files"][0]["lamps"][0]["trust"], "unsigned");
  expect_source("unsigned", "not signed", "that nobody signed");

  hand_over({"--sign", "boathouse"});
  EXPECT_EQ(receive()["files"][0]["lamps"][0]["outcome"], "unchanged");
  EXPECT_EQ(receive({"--on-conflict", "replace"})["files"][0]["lamps"][0]["trust"], "unknown_signer");
  expect_source("unknown_signer", "unknown signer", "neither accepted nor revoked here");

  EXPECT_EQ(taker.run({"keys", "accept", public_key, "--name", "the boathouse"}).status, 0);
  expect_source("accepted_signer", "accepted signer", "signed by 'the boathouse', whose key you accepted");

  EXPECT_EQ(taker.run({"keys", "revoke", "the boathouse", "--reason", "stolen"}).status, 0);
  expect_source("revoked_signer", "REVOKED", "was revoked, because: stolen: do not rely on it");
  const Outcome first = taker.run({"recommend", "heater", "--channel", "dimmer.json"});
  EXPECT_TRUE(first.out.starts_with("Caution: ")) << first.out;

  const std::string before = stored();
  taker.write("heater.json", giver.read("heater.json"));
  const Json refused = receive({"--on-conflict", "add"}, 3);
  EXPECT_NE(refused.dump().find("the key of 'the boathouse', which was revoked here"), std::string::npos) << refused;
  EXPECT_EQ(stored(), before);
}

TEST_F(Sharing, GoesOnByteForByteAndIsTracedBack) {
  hand_over({"--sign", "boathouse", "--captures"});
  const Json receipt = receive();
  EXPECT_EQ(receipt["summary"], Json::parse(R"({"new":1,"unchanged":0,"differing":0,"refused":0})"));
  EXPECT_EQ(receipt["files"][0]["differences"], Json::array());
  EXPECT_EQ(receipt["files"][0]["lamps"][0]["with_samples"], true);
  ASSERT_EQ(taker.run({"share", "heater", "-o", "again.json"}).status, 0);
  EXPECT_EQ(taker.read("again.json"), giver.read("heater.json"));
  EXPECT_EQ(receive()["summary"]["unchanged"], 1);
  // At home again nothing is new either.
  giver.write("again.json", taker.read("again.json"));
  EXPECT_EQ(parsed(giver.run({"receive", "again.json", "--json"}))["summary"]["unchanged"], 1);

  const Json here = parsed(taker.run({"show", "heater", "--json"}))["basis"];
  const Json there = parsed(giver.run({"show", "heater", "--json"}))["basis"];
  EXPECT_EQ(here["model_digest"], there["model_digest"]);
  EXPECT_EQ(here["received"]["content_digest"], there["model_digest"]);
  EXPECT_EQ(here["captures"][0]["sha256"], sha256_of_file(giver.path("heater.csv").string()));
  EXPECT_EQ(here["received"]["signer"], public_key);
  EXPECT_EQ(here["fitted"]["program_version"], there["fitted"]["program_version"]);
  EXPECT_EQ(there["trust"], "own");
  // The same answer from the same figures.
  const Json answer = parsed(giver.run({"recommend", "heater", "--channel", "dimmer.json", "--json"}));
  EXPECT_EQ(recommendation()["max_lamps"], answer["recommendation"]["max_lamps"]);
  EXPECT_EQ(recommendation()["modes"], answer["recommendation"]["modes"]);

  // Fitted here, it still rests on captures that came so; with captures of one's own it does not.
  EXPECT_EQ(here["received"]["fitted_here"], false);
  EXPECT_EQ(taker.run({"fit", "heater"}).status, 0);
  EXPECT_EQ(parsed(taker.run({"show", "heater", "--json"}))["basis"]["received"]["fitted_here"], true);
  EXPECT_EQ(parsed(taker.run({"show", "heater", "--json"}))["basis"]["trust"], "unknown_signer");
  taker.write_resistor_capture("own.csv", 510.0);
  EXPECT_EQ(taker.run({"characterise", "own.csv", "--lamp", "heater"}).status, 0);
  EXPECT_EQ(parsed(taker.run({"show", "heater", "--json"}))["basis"]["trust"], "own");
}

TEST_F(Sharing, NothingIsOverwritten) {
  hand_over();
  taker.write_resistor_capture("own.csv", 700.0);
  ASSERT_EQ(taker.run({"characterise", "own.csv", "--lamp", "heater", "--cold-resistance", "703"}).status, 0);
  const Json own = parsed(taker.run({"show", "heater", "--json"}));
  const std::string before = stored();

  Json receipt = receive();
  EXPECT_EQ(receipt["summary"]["differing"], 1);
  EXPECT_EQ(receipt["files"][0]["lamps"][0]["stored_as"], nullptr);
  EXPECT_EQ(receive({"--on-conflict", "add", "--dry-run"})["files"][0]["lamps"][0]["stored_as"], "heater (received)");
  EXPECT_EQ(stored(), before);

  receipt = receive({"--on-conflict", "replace"});
  EXPECT_EQ(receipt["files"][0]["lamps"][0]["stored_as"], "heater");
  const Json now = parsed(taker.run({"show", "heater", "--json"}));
  EXPECT_NEAR(now["fit"]["parameters"]["resistance_ohm"]["value"].get<double>(), 500.0, 2.0);
  ASSERT_EQ(now["earlier"].size(), 1U);
  const std::string earlier = now["earlier"][0]["lamp"];
  EXPECT_TRUE(earlier.starts_with("heater (until 20")) << earlier;
  const Json kept = parsed(taker.run({"show", earlier, "--json"}));
  EXPECT_EQ(kept["fit"], own["fit"]);
  EXPECT_EQ(kept["captures"], own["captures"]);
  EXPECT_EQ(kept["superseded_by"], "heater");
  EXPECT_EQ(parsed(taker.run({"lamps", "--json"}))["lamps"].size(), 1U);
}

/// As if the capture had begun before the heater of 500 Ohm was switched on at 80 degrees: 0.65 A, 2.1 mA2s.
void switched_on(json::Json& lamp, double peak_a) {
  json::Json& figures = lamp["captures"][0]["figures"];
  figures["turn_on"] = {{"sample", 40}, {"phase_deg", 80.0}, {"supply_side_voltage", false}};
  figures["inrush"] = {{"peak_a", peak_a}, {"i2t_a2s", 0.0021}, {"width_s", 1e-3}, {"phase_deg", 80.0}};
}

/// As if a dimmer let through so much of every half cycle: the current that stays there is that of all of it.
void cut(json::Json& lamp, double conduction_deg) {
  json::Json& figures = lamp["captures"][0]["figures"];
  figures["cut"] = {{"edge", "trailing"}, {"conduction_angle_deg", conduction_deg}, {"supply_side_voltage", true}};
}

TEST_F(Sharing, ASurgeThatTheCircuitGivesIsTaken) {
  hand_over();
  forge([](json::Json& lamp) { switched_on(lamp, 0.65); });
  EXPECT_EQ(receive({"--dry-run"})["summary"]["new"], 1);
}

// Samples that give 1.5 % more than the figures say are told and taken, and the library is whole with them.
TEST_F(Sharing, WhatWasTakenInIsNoFaultOfTheLibrary) {
  hand_over({"--captures"});
  forge([](json::Json& lamp) {
    json::Json& figures = lamp["captures"][0]["figures"];
    for (const char* key : {"current_rms_a", "current_peak_a", "active_power_w", "apparent_power_va"}) {
      figures[key] = figures[key].get<double>() * 0.985;
    }
  });
  EXPECT_FALSE(receive()["files"][0]["differences"].empty());
  EXPECT_EQ(taker.run({"library", "check"}).status, 0);
  ASSERT_EQ(taker.run({"share", "heater", "-o", "again.json"}).status, 0);
  EXPECT_EQ(taker.read("again.json"), taker.read("heater.json"));
}

TEST_F(Sharing, AFileThatContradictsItselfIsRefused) {
  struct Case {
    std::function<void(json::Json&)> change;
    const char* answer;
    bool with_samples = true;
  };
  const auto scaled = [](json::Json& lamp, double factor) {
    json::Json& one = lamp["fit"]["parameters"][0];
    for (const char* key : {"value", "lower_95", "upper_95", "standard_uncertainty"}) {
      one[key] = one[key].get<double>() * factor;
    }
    lamp["fit"]["derived"] = json::Json::array();
  };
  const std::vector<Case> cases = {
      {[&](json::Json& lamp) { scaled(lamp, 1.25); }, "fitted again, resistance_ohm is 62"},
      {[](json::Json& lamp) { switched_on(lamp, 2.0); }, "inrush peak of heater.csv is 2 A in the file, but 0.6",
       false},
      {[](json::Json& lamp) {
         switched_on(lamp, 0.65);
         lamp["captures"][0]["figures"]["inrush"]["i2t_a2s"] = 1e-5;
       },
       "inrush I2t of heater.csv is 1e-05 A2s in the file, but 0.002", false},
      {[](json::Json& lamp) { cut(lamp, 60.0); }, "current of heater.csv is 0.4", false},
      {[](json::Json& lamp) { cut(lamp, 150.0); }, "the cut of heater.csv is trailing in the file, but none"},
      {[](json::Json& lamp) { lamp["captures"][0]["figures"]["current_thd_percent"] = 30.0; },
       "harmonic distortion of heater.csv is 30 % in the file, but "},
      {[](json::Json& lamp) { lamp["fit"]["derived"][0]["name"] = "safe_w"; },
       "a figure is 'safe_w' in the file, but none of resistor's"},
      // A lamp made small: its circuit says less than was measured.
      {[](json::Json& lamp) {
         json::Json& one = lamp["fit"]["parameters"][0];
         for (const char* key : {"value", "lower_95", "upper_95", "standard_uncertainty"}) {
           one[key] = one[key].get<double>() * 2.0;
         }
         lamp["fit"]["derived"] = json::Json::array();
       },
       "contradicts itself: current of heater.csv"},
      {[](json::Json& lamp) {
         json::Json& one = lamp["fit"]["derived"][0];
         for (const char* key : {"value", "lower_95", "upper_95"}) one[key] = one[key].get<double>() * 0.5;
       },
       "contradicts itself: "},
      {[](json::Json& lamp) {
         json::Json& figures = lamp["captures"][0]["figures"];
         for (const char* key : {"current_rms_a", "current_peak_a", "active_power_w", "apparent_power_va"}) {
           figures[key] = figures[key].get<double>() * 0.9;
         }
       },
       "contradicts itself: current of heater.csv"},
      {[](json::Json& lamp) { lamp["fit"]["residual_rms_a"] = "0.1"; }, "a number was expected, here is a string"},
  };
  for (const Case& one : cases) {
    hand_over(one.with_samples ? std::vector<std::string>{"--captures"} : std::vector<std::string>{});
    forge(one.change);
    const Json refused = receive({}, 3);
    EXPECT_NE(refused["files"][0]["refused"]["message"].get<std::string>().find(one.answer), std::string::npos)
        << refused;
    EXPECT_EQ(refused["summary"]["refused"], 1);
    EXPECT_FALSE(fs::exists(library));
  }
  // One bad file holds back a good one.
  hand_over({}, "good.json");
  const Json both = parsed(taker.run({"receive", "good.json", "heater.json", "--json"}), 3);
  EXPECT_EQ(both["files"][0]["refused"], nullptr);
  EXPECT_FALSE(fs::exists(library));
}

TEST_F(Sharing, AFolderIsReadAndWrittenAsARepositoryIs) {
  giver.write_resistor_capture("radiator.csv", 700.0);
  ASSERT_EQ(giver.run({"characterise", "radiator.csv", "--lamp", "Radiator, by the door"}).status, 0);
  Json written = hand_over_folder({"--captures", "--contributor", "the boathouse"});
  ASSERT_EQ(written["lamps"].size(), 2U);
  for (const Json& one : written["lamps"]) EXPECT_EQ(one["written"], "new");
  const std::string file = written["lamps"][1]["file"];
  const std::string radiator = written["lamps"][0]["file"];
  EXPECT_TRUE(radiator.starts_with("lamps/radiator-by-the-door-") && radiator.ends_with(".lamp.json")) << radiator;
  written = hand_over_folder({"--captures", "--contributor", "the boathouse"});
  for (const Json& one : written["lamps"]) EXPECT_EQ(one["written"], "unchanged");

  // What lies about in a checked-out repository, and what leads out of it.
  fs::create_directories(taker.path("lamps/.git"));
  fs::create_directories(taker.path("lamps/more"));
  fs::create_directories(taker.path("outside"));
  taker.write("lamps/.git/hidden.lamp.json", "{");
  taker.write("lamps/package.json", "{");
  taker.write("outside/secret.lamp.json", "{");
  fs::create_symlink("../outside/secret.lamp.json", taker.path("lamps/link.lamp.json"));
  fs::create_directory_symlink("../outside", taker.path("lamps/outside"));
  fs::rename(taker.path(radiator), taker.path("lamps/more/radiator.lamp.json"));
  const Json trial = parsed(taker.run({"receive", "lamps", "--dry-run", "--json"}));
  EXPECT_FALSE(fs::exists(library));
  EXPECT_EQ(trial["summary"], Json::parse(R"({"new":2,"unchanged":0,"differing":0,"refused":0})"));
  EXPECT_EQ(trial["left_out"],
            Json::parse(R"([{"file":"lamps/link.lamp.json","why":"is a link; links are not followed"},
    {"file":"lamps/outside","why":"is a link; links are not followed"}])"));
  EXPECT_EQ(trial["files"][1]["file"], "lamps/more/radiator.lamp.json");

  // Every fault is told with its file, and holds back all.
  taker.write("lamps/more/broken.lamp.json", "{");
  taker.write("lamps/odd.lamp.json", R"({"format":"lampload-lamp","format_version":"1.0"})");
  const Json refused = parsed(taker.run({"receive", "lamps", "--json"}), 3);
  EXPECT_EQ(refused["summary"]["refused"], 2);
  EXPECT_EQ(refused["files"][1]["refused"]["line"], 1);
  EXPECT_EQ(refused["files"][3]["refused"]["key"], "lamps");
  EXPECT_FALSE(fs::exists(library));
  fs::remove(taker.path("lamps/more/broken.lamp.json"));
  fs::remove(taker.path("lamps/odd.lamp.json"));

  // Two files carry differing lamps of one name: a trial run tells what a real one does.
  giver.write_resistor_capture("heater.csv", 520.0);
  ASSERT_EQ(giver.run({"characterise", "heater.csv", "--lamp", "heater"}).status, 0);
  ASSERT_EQ(giver.run({"share", "heater", "-o", "second.lamp.json"}).status, 0);
  taker.write("lamps/second.lamp.json", giver.read("second.lamp.json"));
  const std::vector<std::string> words = {"receive", "lamps", "--on-conflict", "add", "--json"};
  std::vector<std::string> dry = words;
  dry.emplace_back("--dry-run");
  const Json told = parsed(taker.run(dry));
  const Json done = parsed(taker.run(words));
  EXPECT_EQ(told["files"].dump(), done["files"].dump());
  EXPECT_EQ(done["files"][2]["lamps"][0]["stored_as"], "heater (received)");
  EXPECT_NE(done["files"][2]["lamps"][0]["remark"].get<std::string>().find("in the same run"), std::string::npos);
  fs::create_directories(taker.path("empty"));
  EXPECT_NE(taker.run({"receive", "empty"}).err.find("empty: the folder holds no lamp model files, whose names end in"),
            std::string::npos);
}

TEST_F(Sharing, AFolderKeepsWhatIsOfOthers) {
  const std::string file = hand_over_folder({"--contributor", "the boathouse"})["lamps"][0]["file"];
  const std::string before = giver.read(file);
  const auto share = [&](const std::vector<std::string>& more) {
    std::vector<std::string> words = {"share", "--all", "--folder", "lamps"};
    words.insert(words.end(), more.begin(), more.end());
    return giver.run(words, {{"COLUMNS", "400"}});
  };
  Outcome outcome = share({"--contributor", "somebody else"});
  EXPECT_EQ(outcome.status, 3);
  EXPECT_NE(outcome.err.find("holds a lamp of 'the boathouse', which would be lost; nothing was written"),
            std::string::npos)
      << outcome.err;
  EXPECT_EQ(giver.read(file), before);
  EXPECT_EQ(share({"--contributor", "the boathouse", "--sign", "boathouse"}).status, 0);
  EXPECT_NE(share({"--contributor", "the boathouse"}).err.find("holds a lamp signed with key"), std::string::npos);

  // What cannot be written does not hold back the others, and its file is not taken for one of a lamp that is gone.
  const std::string name = "two\xC2\x9Btwo";
  giver.write_resistor_capture("odd.csv", 600.0);
  ASSERT_EQ(giver.run({"characterise", "odd.csv", "--lamp", name}).status, 0);
  const Json rest = parsed(giver.run({"share", "--all", "--folder", "others", "--json"}), 1);
  EXPECT_EQ(rest["lamps"].size(), 1U);
  EXPECT_NE(rest["left_out"][0]["why"].get<std::string>().find("must not hold control characters"), std::string::npos);
  ASSERT_EQ(giver.run({"remove", name, "--yes"}).status, 0);

  // A lamp that is no longer there: its file is told, and removed only where it is known to be one's own.
  giver.write_resistor_capture("radiator.csv", 700.0);
  ASSERT_EQ(giver.run({"characterise", "radiator.csv", "--lamp", "radiator"}).status, 0);
  ASSERT_EQ(giver.run({"remove", "heater", "--yes"}).status, 0);
  EXPECT_NE(share({}).out.find("left there: " + file + " (heater), which the library does not hold"),
            std::string::npos);
  EXPECT_NE(share({"--remove-gone"}).err.find("--remove-gone does not know which files are yours"), std::string::npos);
  EXPECT_NE(share({"--remove-gone", "--contributor", "the boathouse"}).out.find("left there"), std::string::npos);
  EXPECT_TRUE(fs::exists(giver.path(file)));
  EXPECT_NE(share({"--remove-gone", "--sign", "boathouse", "--contributor", "the boathouse"}).out.find("removed: "),
            std::string::npos);
  EXPECT_FALSE(fs::exists(giver.path(file)));
}

TEST_F(Sharing, WhatIsMadeOfAReceivedLampCarriesItsCaution) {
  hand_over();
  receive();
  const std::string caution = "'heater' was not measured here, and nobody signed the lamp model file it came in";
  const std::vector<std::vector<std::string>> commands = {
      {"curve", "heater", "--channel", "dimmer.json", "--json"},
      {"simulate", "heater", "--channel", "dimmer.json", "--mode", "on_off", "--json", "--output", "w.csv"},
      {"spice", "heater", "--json"},
      {"compare", "heater.csv", "--lamp", "heater", "--count", "1", "--channel", "dimmer.json", "--dry-run", "--json"}};
  taker.write("heater.csv", giver.read("heater.csv"));
  for (std::vector<std::string> words : commands) {
    Outcome outcome = taker.run(words);
    EXPECT_EQ(outcome.err, "caution: " + caution + "\n") << words[0];
    EXPECT_EQ(Json::parse(outcome.out)["cautions"], Json::array({caution})) << words[0];
    words.emplace_back("--quiet");
    EXPECT_EQ(taker.run(words).err, "") << words[0];
  }
  EXPECT_NE(taker.read("w.csv").find("# caution: " + caution), std::string::npos);
  EXPECT_NE(taker.run({"spice", "heater"}).out.find("* Caution: " + caution), std::string::npos);
  for (const char* form : {"csv", "c"}) {
    const Outcome outcome = taker.run({"curve", "heater", "--channel", "dimmer.json", "--format", form});
    EXPECT_NE(outcome.out.find("caution: " + caution), std::string::npos) << form;
  }
  EXPECT_EQ(giver.run({"spice", "heater"}).err, "");
}

TEST_F(Sharing, CapAndTechnologyGoAlong) {
  ASSERT_EQ(giver.run({"import", "--lamp", "heater", "--base", "GU10", "--technology", "halogen"}).status, 0);
  hand_over();
  receive();
  EXPECT_EQ(Json::parse(taker.read("heater.json"))["format_version"], "1.1");
  EXPECT_EQ(parsed(taker.run({"show", "heater", "--json"}))["nominal"]["base"], "GU10");
  EXPECT_EQ(parsed(taker.run({"lamps", "--base", "gu10", "--technology", "halogen", "--json"}))["lamps"].size(), 1U);
  EXPECT_EQ(parsed(taker.run({"lamps", "--base", "E27", "--json"}))["lamps"].size(), 0U);
  EXPECT_NE(taker.run({"lamps"}).out.find("GU10, halogen"), std::string::npos);
  EXPECT_NE(giver.run({"import", "--lamp", "heater", "--base", "e27"}).err.find("'E27' may be meant"),
            std::string::npos);
  EXPECT_NE(giver.run({"import", "--lamp", "nobody", "--base", "E27"}).err.find("'nobody' is not stored yet"),
            std::string::npos);
}

TEST_F(Sharing, KeysAreForTheirOwnerAlone) {
  const fs::path key = giver.path("data/lampload/keys/boathouse.key");
  EXPECT_EQ(fs::status(key).permissions(), fs::perms::owner_read | fs::perms::owner_write);
  EXPECT_EQ(fs::status(key.parent_path()).permissions(), fs::perms::owner_all);
  fs::permissions(key, fs::perms::group_read, fs::perm_options::add);
  Outcome outcome = giver.run({"share", "heater", "-o", "x.json", "--sign", "boathouse"});
  EXPECT_EQ(outcome.status, 3);
  EXPECT_NE(outcome.err.find("may be read or written by others, so it is not used to sign"), std::string::npos);
  EXPECT_FALSE(fs::exists(giver.path("x.json")));
  outcome = giver.run({"keys", "make", "boathouse"});
  EXPECT_EQ(outcome.status, 3);
  EXPECT_NE(outcome.err.find("a key is never written over"), std::string::npos) << outcome.err;
  for (const char* name : {"../boathouse", "a/b", "", "a.b"}) {
    EXPECT_EQ(giver.run({"keys", "make", name}).status, 2) << name;
    EXPECT_EQ(giver.run({"share", "heater", "-o", "x.json", "--sign", std::string("../") + name}).status, 2) << name;
  }
  // A key that no library knows is not left behind.
  giver.write("not_a_library", "words, and more of them than the beginning of a database has");
  EXPECT_EQ(giver.run({"keys", "make", "second", "--library", "not_a_library"}).status, 5);
  EXPECT_FALSE(fs::exists(giver.path("data/lampload/keys/second.key")));
  EXPECT_EQ(giver.run({"keys", "revoke", "nobody"}).status, 4);
  EXPECT_EQ(giver.run({"keys", "accept", "ABC", "--name", "x"}).status, 2);
}

// A name that was stored before such names were refused is shown harmless, in every output.
TEST_F(Sharing, WhatSteersATerminalIsShownHarmless) {
  const std::string name =
      "evil\xC2\x9B"
      "31m \u202E name";
  ASSERT_EQ(taker.run({"characterise", giver.path("heater.csv").string(), "--lamp", name}).status, 0);
  for (const std::vector<std::string>& words : {std::vector<std::string>{"lamps"},
                                                {"lamps", "--json"},
                                                {"show", name},
                                                {"show", name, "--json"},
                                                {"recommend", name, "--channel", "dimmer.json"},
                                                {"recommend", "--channel", "dimmer.json", "--json"}}) {
    const Outcome outcome = taker.run(words);
    EXPECT_EQ(outcome.out.find("\xC2\x9B"), std::string::npos) << words[0];
    EXPECT_EQ(outcome.out.find("\u202E"), std::string::npos) << words[0];
  }
  EXPECT_EQ(parsed(taker.run({"lamps", "--json"}))["lamps"][0]["name"], name);
  const Outcome outcome = taker.run({"share", name, "-o", "x.json"});
  EXPECT_EQ(outcome.status, 3);
  EXPECT_NE(outcome.err.find("name: must not hold control characters"), std::string::npos) << outcome.err;
}

}  // namespace
}  // namespace lampload::test::sharing_test
