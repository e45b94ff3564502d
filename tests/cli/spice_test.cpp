// The spice command: what it hands on runs in ngspice as it says, and draws where it is asked to.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <regex>
#include <sstream>

#include "db/library.h"
#include "json_keys.h"
#include "program.h"
#include "stored_lamp.h"

namespace lampload::test::spice_test {
namespace {

using Json = nlohmann::ordered_json;

bool ngspice_is_there() { return std::system("ngspice --version > /dev/null 2>&1") == 0; }  // NOLINT: fixed words only

std::string run_ngspice_on(const Workplace& place, const std::string& file) {
  const std::string command = "cd '" + place.path("").string() + "' && ngspice -b " + file + " > log.txt 2>&1";
  EXPECT_EQ(std::system(command.c_str()), 0);  // NOLINT: fixed words only
  return place.read("log.txt");
}

TEST(Spice, WritesALampWithWhatIsKnownOfIt) {
  const Workplace place;
  store_lamp(place, "Kettle, 100 W; a\"b", "resistor", "", {529.0});
  const Outcome outcome = place.run({"spice", "Kettle, 100 W; a\"b"});
  ASSERT_EQ(outcome.status, 0) << outcome.err;
  EXPECT_TRUE(outcome.out.starts_with("* Kettle, 100 W; a\"b: equivalent circuit of one lamp for ngspice"))
      << outcome.out;
  for (const char* part : {"resistance_ohm = 529 Ohm", "The test it rests on", "no captures are stored here",
                           ".subckt kettle_100_w_a_b a b\n+ resistance_ohm=529\nR1 a b {resistance_ohm}\n",
                           ".ends kettle_100_w_a_b\n", "*: X1 lampx 0 kettle_100_w_a_b\n"}) {
    EXPECT_NE(outcome.out.find(part), std::string::npos) << part << '\n' << outcome.out;
  }
  const Outcome json = place.run({"spice", "Kettle, 100 W; a\"b", "--json", "--name", "kettle", "-o", "kettle.cir"});
  const Json document = Json::parse(json.out);
  EXPECT_EQ(keys(document),
            (Keys{"lamp", "subcircuit", "family", "load_law", "scattered", "file", "text", "cautions"}));
  EXPECT_EQ(document["subcircuit"], "kettle");
  EXPECT_EQ(document["text"], place.read("kettle.cir"));
}

TEST(Spice, RefusesWhatCannotBeHandedOn) {
  const Workplace place;
  place.write_resistor_capture("a.csv");
  ASSERT_EQ(place.run({"import", "a.csv", "--lamp", "kettle"}).status, 0);
  const Outcome unfitted = place.run({"spice", "kettle"});
  EXPECT_EQ(unfitted.status, 3);
  EXPECT_NE(
      unfitted.err.find("'kettle' has no equivalent circuit: it is not fitted yet. Run 'lampload fit' on it first"),
      std::string::npos)
      << unfitted.err;
  const Outcome name = place.run({"spice", "kettle", "--name", "Kettle 1"});
  EXPECT_EQ(name.status, 2);
  EXPECT_NE(name.err.find("'Kettle 1' is no name of a subcircuit"), std::string::npos) << name.err;
}

TEST(Spice, TheExampleInItRuns) {
  ASSERT_TRUE(ngspice_is_there()) << "ngspice is missing: .ci/install test";
  const Workplace place;
  store_lamp(place, "stair candle", "rectifier_capacitor", "led_string",
             {20.0, 1e-3, 2e-8, 1.6, 5e-6, 2.0, 200.0, 1500.0});
  store_lamp(place, "strip", "strip", "", {20.6, 1.1, 6e-6});
  store_lamp(place, "emitter", "emitter", "", {1e-40, 0.5, 2.5});
  for (const std::string lamp : {"stair candle", "strip", "emitter"}) {
    for (const std::string spread : {"", "--spread"}) {
      std::vector<std::string> words{"spice", lamp};
      if (!spread.empty()) words.push_back(spread);
      place.write("lamp.cir", std::regex_replace(place.run(words).out, std::regex("\n\\*: "), "\n"));
      const std::string log = run_ngspice_on(place, "lamp.cir");
      for (const char* sign : {"abort", "too small", "rror", "singular"}) {
        EXPECT_EQ(log.find(sign), std::string::npos) << lamp << spread << '\n' << log;
      }
      EXPECT_EQ(log.find("peak_a") != std::string::npos, !spread.empty()) << log;
    }
  }
}

// 400 draws of one lamp in one run: mean and standard deviation of what was told to be scattered.
TEST(Spice, SpreadDrawsWhatIsStored) {
  ASSERT_TRUE(ngspice_is_there()) << "ngspice is missing: .ci/install test";
  const Workplace place;
  StoredFit fit;
  fit.accepted = true;
  fit.verdict = "put there by a test";
  fit.family = "resistor";
  fit.parameters = {{"resistance_ohm", "Ohm", 100.0, 3.0, 94.0, 106.0, true, ""}};
  fit.covariance = {1e-12};  // so little that only the pieces differ
  fit.spread_source = "measured";
  fit.parameter_spreads = {{"resistance_ohm", true, 5, 0.05, 0.02, 0.1, 0.05, 0.0}};
  Library::open((place.path("data") / "lampload" / "library.db").string(), Library::Access::read_write)
      .store("kettle", {}, {}, fit);
  const std::string text = place.run({"spice", "kettle", "--spread"}).out;
  std::string deck = text.substr(0, text.find("*\n* To try it"));
  constexpr int lamps = 400;
  deck += "Vin in 0 100\n";
  for (int k = 0; k < lamps; ++k) deck += fmt::format("Vm{0} in x{0} 0\nX{0} x{0} 0 kettle\n", k);
  deck +=
      "Vsame in y 0\nXsame y 0 kettle scatter=0\n.tran 1m 2m\n.control\nsetseed 7\nreset\nrun\nset "
      "wr_singlescale\nwrdata out.txt i(vsame)";
  for (int k = 0; k < lamps; ++k) deck += fmt::format(" i(vm{})", k);
  place.write("many.cir", deck + "\nquit\n.endc\n.end\n");
  run_ngspice_on(place, "many.cir");
  std::istringstream row(place.read("out.txt"));
  double time_s = 0.0;
  double same_a = 0.0;
  row >> time_s >> same_a;
  EXPECT_NEAR(same_a, 1.0, 1e-6);
  double sum = 0.0;
  double squares = 0.0;
  for (int k = 0; k < lamps; ++k) {
    double current_a = 0.0;
    ASSERT_TRUE(row >> current_a);
    sum += std::log(current_a);
    squares += std::log(current_a) * std::log(current_a);
  }
  const double mean = sum / lamps;
  EXPECT_NEAR(mean, 0.0, 5.0 * 0.05 / std::sqrt(lamps));
  EXPECT_NEAR(std::sqrt(squares / lamps - mean * mean), 0.05, 5.0 * 0.05 / std::sqrt(2.0 * lamps));
}

}  // namespace
}  // namespace lampload::test::spice_test
