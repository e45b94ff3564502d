// Lamps fed with DC, from the capture to the recommendation.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <nlohmann/json.hpp>
#include <random>
#include <string>

#include "json_keys.h"
#include "program.h"
#include "tests/places.h"

namespace lampload::test::dc_test {
namespace {

using Json = nlohmann::ordered_json;
using Signal = std::function<double(double seconds)>;

/// 250 kS/s through 8 bits, and the noise that goes with them.
void write_capture(const Workplace& place, const std::string& name, const Signal& volts, const Signal& amperes) {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> noise(-0.8, 0.8);
  const auto seen = [&](double value, double step) { return step * std::round(value / step + noise(random)); };
  std::string text = "# simulated capture\ntime (s),voltage (V),current (A)\n";
  for (int k = 0; k < 10000; ++k) {
    const double t = k * 4e-6;
    text += fmt::format("{:.6f},{:.4g},{:.4g}\n", t, seen(volts(t), 0.25), seen(amperes(t), 0.02));
  }
  place.write(name, text);
}

/// A strip of 20.5 V and 2 Ohm: the curve of docs/models/rectifier_capacitor.md, solved for the current.
double strip_a(double volt) {
  const double knee_v = 0.02 * 20.5, working_a = 8.0 * knee_v / 2.0;
  double low = 1e-9, high = 100.0;
  for (int n = 0; n < 60; ++n) {
    const double i = std::sqrt(low * high);
    const double u = i / working_a;
    (20.5 + 2.0 * i + knee_v * (std::log(u) - (u - 1.0)) < volt ? low : high) = i;
  }
  return low;
}

void write_strip(const Workplace& place) {
  const auto rise = [](double t) { return 24.0 * std::clamp((t - 5e-3) / 12e-3, 0.0, 1.0); };
  write_capture(place, "turn_on.csv", rise, [&](double t) { return strip_a(rise(t)); });
  const double on_a = strip_a(24.0);
  const auto on = [](double t) { return std::fmod(t + 1e-4, 2e-3) < 0.6e-3; };
  write_capture(
      place, "pulses.csv", [&](double t) { return on(t) ? 24.0 : 0.0; }, [&](double t) { return on(t) ? on_a : 0.0; });
}

TEST(DcLamp, IsCharacterisedForItsDimmer) {
  const Workplace place;
  write_strip(place);
  const std::string channel = test::samples_folder() + "boathouse_strip_24v.json";
  const Outcome outcome = place.run({"characterise", "turn_on.csv", "pulses.csv", "--lamp", "boat rack strip",
                                     "--channel", channel, "--nominal-voltage", "24", "--json"});
  ASSERT_EQ(outcome.status, 0) << outcome.err << outcome.out;
  const Json document = Json::parse(outcome.out);
  EXPECT_EQ(document["captures"][0]["supply"], "dc");
  EXPECT_TRUE(document["captures"][0]["dc"]["duty"].is_null());
  EXPECT_NEAR(document["captures"][1]["dc"]["duty"].get<double>(), 0.3, 0.005);
  EXPECT_NEAR(document["captures"][1]["dc"]["pulse_frequency_hz"].get<double>(), 500.0, 0.5);
  EXPECT_EQ(document["fit"]["family"], "strip");
  const Json& parameters = document["fit"]["parameters"];
  EXPECT_NEAR(parameters["string_voltage_v"]["value"].get<double>(), 20.5, 0.4);
  EXPECT_NEAR(parameters["string_resistance_ohm"]["value"].get<double>(), 2.0, 0.2);
  const Json& advice = document["recommendation"];
  EXPECT_EQ(advice["mode"], "dc_pwm");
  // 8 A over the strip's current
  EXPECT_EQ(advice["max_lamps_nominal"].get<int>(), static_cast<int>(8.0 / strip_a(24.0)));
  EXPECT_EQ(advice["limited_by"], "continuous_current");
  EXPECT_EQ(advice["confidence"], "measured");
  // and for people, from the library
  const Outcome shown = place.run({"show", "boat rack strip"});
  EXPECT_NE(shown.out.find("in pulses, 500.0 Hz, duty 30.0 %"), std::string::npos) << shown.out;
  EXPECT_NE(place.run({"lamps"}).out.find("strip"), std::string::npos);
}

TEST(DcLamp, GetsNoCountOnMains) {
  const Workplace place;
  write_strip(place);
  place.write_dimmer("dimmer.json");
  const Outcome outcome = place.run({"characterise", "turn_on.csv", "--lamp", "strip", "--channel", "dimmer.json"});
  EXPECT_EQ(outcome.status, 1) << outcome.err;
  EXPECT_NE(outcome.out.find("no mode of this channel suits this lamp"), std::string::npos) << outcome.out;
  EXPECT_NE(outcome.out.find("is fed with a constant voltage of DC; the channel gives"), std::string::npos)
      << outcome.out;
  const Json document = Json::parse(place.run({"recommend", "strip", "--channel", "dimmer.json", "--json"}).out);
  EXPECT_EQ(document["recommendation"]["max_lamps"], 0);
  EXPECT_EQ(document["recommendation"]["limited_by"], "supply");
}

TEST(DcLamp, NoiseIsRefused) {
  const Workplace place;
  write_capture(
      place, "nothing.csv", [](double) { return 0.0; }, [](double) { return 0.0; });
  const Outcome outcome = place.run({"characterise", "nothing.csv", "--lamp", "nothing"});
  EXPECT_EQ(outcome.status, 3);
  EXPECT_NE(outcome.err.find("nothing.csv"), std::string::npos) << outcome.err;
}

}  // namespace
}  // namespace lampload::test::dc_test
