#pragma once
// Two installers with a library each, for tests of what goes between them.

#include <gtest/gtest.h>

#include <filesystem>
#include <functional>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "db/canonical_json.h"
#include "db/digest.h"
#include "program.h"

namespace lampload::test {

inline nlohmann::json parsed(const Outcome& outcome, int status = 0) {
  EXPECT_EQ(outcome.status, status) << outcome.err << outcome.out;
  return nlohmann::json::parse(outcome.out);
}

/// Two installers: `giver` has a measured heater, `taker` has nothing yet.
class TwoInstallers : public ::testing::Test {
 protected:
  TwoInstallers() {
    giver.write_resistor_capture("heater.csv", 500.0);
    giver.write_dimmer("dimmer.json");
    EXPECT_EQ(giver.run({"characterise", "heater.csv", "--lamp", "heater", "--cold-resistance", "503"}).status, 0);
    EXPECT_EQ(giver.run({"keys", "make", "boathouse"}).status, 0);
    public_key = parsed(giver.run({"keys", "list", "--json"}))["own"][0]["public_key"];
    taker.write_dimmer("dimmer.json");
  }

  void hand_over(const std::vector<std::string>& more = {}, const std::string& file = "heater.json") {
    std::vector<std::string> words = {"share", "heater", "-o", file, "--licence", "CC0-1.0"};
    words.insert(words.end(), more.begin(), more.end());
    const Outcome outcome = giver.run(words);
    ASSERT_EQ(outcome.status, 0) << outcome.err;
    taker.write(file, giver.read(file));
  }

  nlohmann::json receive(const std::vector<std::string>& more = {}, int status = 0) {
    std::vector<std::string> words = {"receive", "heater.json", "--json"};
    words.insert(words.end(), more.begin(), more.end());
    return parsed(taker.run(words), status);
  }

  /// The file that lies at the taker's, changed and sealed again without a signature.
  void forge(const std::function<void(json::Json&)>& change) {
    json::Json document = json::Json::parse(taker.read("heater.json"));
    json::Json& lamp = document["lamps"][0];
    change(lamp);
    lamp.erase("digest");
    lamp.erase("signature");
    lamp["contributor"].erase("public_key");
    const std::string digest = sha256_hex(json::canonical(lamp));
    lamp["digest"] = digest;
    taker.write("heater.json", json::laid_out(document));
  }

  std::string stored() { return std::filesystem::exists(library) ? taker.read("data/lampload/library.db") : ""; }

  nlohmann::json recommendation(int status = 0) {
    return parsed(taker.run({"recommend", "heater", "--channel", "dimmer.json", "--json"}), status)["recommendation"];
  }

  Workplace giver;
  Workplace taker;
  /// The giver's whole library as a folder, carried to the taker.
  nlohmann::json hand_over_folder(const std::vector<std::string>& more = {}) {
    std::vector<std::string> words = {"share", "--all", "--folder", "lamps", "--json"};
    words.insert(words.end(), more.begin(), more.end());
    const nlohmann::json written = parsed(giver.run(words));
    std::filesystem::remove_all(taker.path("lamps"));
    std::filesystem::copy(giver.path("lamps"), taker.path("lamps"),
                          std::filesystem::copy_options::recursive | std::filesystem::copy_options::copy_symlinks);
    return written;
  }

  std::filesystem::path library = taker.path("data/lampload/library.db");
  std::string public_key;
};

}  // namespace lampload::test
