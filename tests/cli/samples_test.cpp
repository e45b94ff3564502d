// Several pieces of one lamp type, as a person measures them one after the other.

#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "program.h"

namespace lampload::test::samples_test {
namespace {

using Json = nlohmann::json;

Json parsed(const Outcome& outcome) {
  EXPECT_LE(outcome.status, 1) << outcome.err;
  return Json::parse(outcome.out);
}

class Samples : public ::testing::Test {
 protected:
  Samples() {
    place.write_resistor_capture("first.csv", 490.0);
    place.write_resistor_capture("second.csv", 500.0);
    place.write_resistor_capture("third.csv", 520.0);
    place.write_dimmer("dimmer.json");
  }

  void import_all() {
    for (const char* name : {"first", "second", "third"}) {
      const Outcome outcome = place.run({"import", std::string(name) + ".csv", "--lamp", "heater", "--sample", name,
                                         "--cold-resistance", "503"});  // else it might be a hot filament
      EXPECT_EQ(outcome.status, 0) << outcome.err;
    }
  }

  Workplace place;
};

TEST_F(Samples, AreFittedEachOnItsOwn) {
  import_all();
  const Json fit = parsed(place.run({"fit", "heater", "--json"}))["fit"];
  EXPECT_EQ(fit["family"], "resistor");
  ASSERT_EQ(fit["samples"].size(), 3U);
  EXPECT_EQ(fit["samples"][2]["sample"], "third");
  EXPECT_NEAR(fit["samples"][2]["parameters"]["resistance_ohm"]["value"].get<double>(), 520.0, 2.0);
  // Geometric mean of the three, and the standard deviation of their logarithms.
  const double mean = std::cbrt(490.0 * 500.0 * 520.0);
  double square = 0.0;
  for (const double ohm : {490.0, 500.0, 520.0}) square += 0.5 * std::pow(std::log(ohm / mean), 2);
  EXPECT_NEAR(fit["parameters"]["resistance_ohm"]["value"].get<double>(), mean, 1.0);
  const Json& spread = fit["spread"]["parameters"]["resistance_ohm"];
  EXPECT_NEAR(spread["measured"].get<double>(), std::sqrt(square), 0.002);
  // Three degrees of freedom of 5 %, two of what was measured.
  EXPECT_NEAR(spread["spread"].get<double>(), std::sqrt((3.0 * 0.0025 + 2.0 * square) / 5.0), 0.002);
  EXPECT_EQ(fit["spread"]["source"], "mixture");

  const Json shown = parsed(place.run({"show", "heater", "--json"}));
  EXPECT_EQ(shown["fits"], 1);
  EXPECT_EQ(shown["fit"]["samples"], fit["samples"]);
  EXPECT_EQ(shown["fit"]["spread"], fit["spread"]);
  EXPECT_EQ(shown["captures"][1]["sample"], "second");
  const std::string text = place.run({"show", "heater"}).out;
  EXPECT_NE(text.find("mean of 3 samples"), std::string::npos) << text;
  EXPECT_NE(text.find("from 3 samples"), std::string::npos) << text;
  EXPECT_NE(text.find("of sample second"), std::string::npos) << text;
}

TEST_F(Samples, TheRecommendationUsesTheirSpread) {
  import_all();
  ASSERT_EQ(place.run({"fit", "heater"}).status, 0);
  const Json all = parsed(place.run({"recommend", "heater", "--channel", "dimmer.json", "--json"}))["recommendation"];
  EXPECT_EQ(all["spread"]["samples"], 3);
  EXPECT_EQ(all["spread"]["source"], "mixture");
  EXPECT_LT(all["spread"]["load"]["continuous_current"]["spread"].get<double>(), 0.05);

  // One of them alone: what is usual.
  ASSERT_EQ(place.run({"fit", "heater", "--sample", "third"}).status, 0);
  const Outcome one = place.run({"recommend", "heater", "--channel", "dimmer.json"});
  EXPECT_NE(one.out.find("spread between pieces (5 %, what is usual"), std::string::npos) << one.out;
  const Json alone = parsed(place.run({"recommend", "heater", "--channel", "dimmer.json", "--json"}))["recommendation"];
  EXPECT_EQ(alone["spread"]["source"], "default");
  EXPECT_EQ(alone["spread"]["load"]["surge_peak"]["spread"], 0.05);
  EXPECT_TRUE(alone["spread"]["load"]["surge_peak"]["interval_95"].is_null());
}

TEST_F(Samples, CharacteriseTakesTheOtherPiecesFromTheLibrary) {
  ASSERT_EQ(place.run({"characterise", "first.csv", "--lamp", "heater", "--cold-resistance", "495"}).status, 0);
  const Outcome second =
      place.run({"characterise", "second.csv", "--lamp", "heater", "--sample", "second piece", "--json"});
  const Json document = parsed(second);
  EXPECT_EQ(second.err.find("note:"), std::string::npos) << second.err;
  EXPECT_EQ(document["captures"].size(), 1U);
  ASSERT_EQ(document["fit"]["samples"].size(), 2U);
  EXPECT_EQ(document["fit"]["samples"][0]["sample"], "second piece");
  EXPECT_EQ(document["fit"]["samples"][1]["sample"], "sample 1");
  EXPECT_NEAR(document["fit"]["parameters"]["resistance_ohm"]["value"].get<double>(), std::sqrt(490.0 * 500.0), 1.0);
}

TEST_F(Samples, ARecordingGoesToThePieceThatIsNamed) {
  ASSERT_EQ(place.run({"import", "first.csv", "--lamp", "heater"}).status, 0);
  ASSERT_EQ(place.run({"import", "first.csv", "--lamp", "heater", "--sample", "spare"}).status, 0);
  ASSERT_EQ(place.run({"import", "first.csv", "--lamp", "heater"}).status, 0);
  const Json shown = parsed(place.run({"show", "heater", "--json"}));
  ASSERT_EQ(shown["captures"].size(), 1U);
  EXPECT_EQ(shown["captures"][0]["sample"], "spare");
}

TEST_F(Samples, AnUnknownOneIsNamedWithThoseThereAre) {
  import_all();
  const Outcome outcome = place.run({"fit", "heater", "--sample", "fourth"});
  EXPECT_EQ(outcome.status, 4);
  EXPECT_NE(outcome.err.find("'heater' has no sample 'fourth'; its samples: 'first', 'second', 'third'"),
            std::string::npos)
      << outcome.err;
  EXPECT_EQ(place.run({"import", "first.csv", "--lamp", "heater", "--sample", " "}).status, 2);
}

}  // namespace
}  // namespace lampload::test::samples_test
