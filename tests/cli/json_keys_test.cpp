// The keys other programs rely on, as docs/commands.md promises them: neither fewer nor more.

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "json_keys.h"
#include "program.h"

namespace lampload::test::json_keys_test {
namespace {

using Json = nlohmann::ordered_json;

const Keys capture_keys = {"file",
                           "samples",
                           "sample_rate_hz",
                           "duration_s",
                           "mains_frequency_hz",
                           "voltage_rms_v",
                           "current_rms_a",
                           "current_peak_a",
                           "active_power_w",
                           "apparent_power_va",
                           "power_factor",
                           "displacement_factor",
                           "current_crest_factor",
                           "current_thd_percent",
                           "cut",
                           "inrush",
                           "quality",
                           "supply",
                           "dc"};

/// further: behind those that every command prints.
void expect_capture(const Json& capture, const Keys& further = {}) {
  Keys all = capture_keys;
  all.insert(all.end(), further.begin(), further.end());
  EXPECT_EQ(keys(capture), all);
  EXPECT_EQ(keys(capture["cut"]), (Keys{"edge", "conduction_angle_deg"}));
  if (!capture["inrush"].is_null()) {
    EXPECT_EQ(keys(capture["inrush"]), (Keys{"peak_a", "i2t_a2s", "width_s", "phase_deg"}));
  }
  EXPECT_EQ(capture["supply"] == "dc", capture["mains_frequency_hz"].is_null());
  EXPECT_EQ(capture["supply"] == "dc", capture["dc"].is_object());
  if (capture["dc"].is_object()) {
    EXPECT_EQ(keys(capture["dc"]),
              (Keys{"voltage_mean_v", "current_mean_a", "on_voltage_v", "on_current_a", "voltage_ripple_percent",
                    "current_ripple_percent", "pulse_frequency_hz", "duty"}));
  }
  for (const Json& note : capture["quality"]) EXPECT_EQ(keys(note), (Keys{"code", "severity", "message", "evidence"}));
}

void expect_estimates(const Json& table) {
  for (const auto& [name, estimate] : table.items()) {
    EXPECT_EQ(keys(estimate), (Keys{"value", "unit", "standard_uncertainty", "interval_95", "identified", "remark"}))
        << name;
    EXPECT_EQ(estimate["interval_95"].size(), 2U) << name;
  }
}

void expect_load_spread(const Json& load) {
  EXPECT_EQ(keys(load), (Keys{"continuous_current", "repetitive_peak", "surge_peak", "surge_i2t"}));
  for (const auto& [name, figure] : load.items()) EXPECT_EQ(keys(figure), (Keys{"spread", "interval_95"})) << name;
}

void expect_fit(const Json& fit) {
  EXPECT_EQ(keys(fit), (Keys{"accepted", "verdict", "family", "load_law", "parameters", "derived", "residual_rms_a",
                             "normalised_residual", "rivals", "next_capture", "samples", "spread"}));
  for (const Json& sample : fit["samples"]) {
    EXPECT_EQ(keys(sample), (Keys{"sample", "accepted", "verdict", "family", "load_law", "parameters", "derived",
                                  "residual_rms_a", "normalised_residual"}));
    expect_estimates(sample["parameters"]);
  }
  if (!fit["spread"].is_null()) {
    const Json& spread = fit["spread"];
    EXPECT_EQ(keys(spread), (Keys{"samples", "source", "load", "parameters", "derived"}));
    expect_load_spread(spread["load"]);
    for (const char* kind : {"parameters", "derived"}) {
      for (const auto& [name, one] : spread[kind].items()) {
        EXPECT_EQ(keys(one), (Keys{"spread", "relative", "interval_95", "measured", "usual_share"})) << name;
      }
    }
  }
  expect_estimates(fit["parameters"]);
  expect_estimates(fit["derived"]);
  for (const Json& rival : fit["rivals"]) EXPECT_EQ(keys(rival), (Keys{"family", "load_law", "distance"}));
  if (!fit["next_capture"].is_null()) {
    EXPECT_EQ(keys(fit["next_capture"]), (Keys{"capture", "narrows", "sentence"}));
  }
}

void expect_recommendation(const Json& recommendation) {
  const Keys expected = {"channel",
                         "mode",
                         "max_lamps",
                         "max_lamps_nominal",
                         "limited_by",
                         "next_limit",
                         "raise_by",
                         "confidence",
                         "confidence_reason",
                         "min_conduction_deg",
                         "max_conduction_deg",
                         "modes",
                         "not_checked",
                         "cautions",
                         "spread",
                         "margins",
                         "basis"};
  EXPECT_EQ(keys(recommendation["basis"]), (Keys{"trust", "model_digest", "captures", "fitted", "received"}));
  EXPECT_EQ(recommendation["basis"]["trust"], "own");
  EXPECT_EQ(keys(recommendation["basis"]["captures"][0]),
            (Keys{"file", "sha256", "sample", "measured", "samples_here"}));
  EXPECT_EQ(keys(recommendation), expected);
  EXPECT_EQ(keys(recommendation["spread"]), (Keys{"samples", "source", "load"}));
  expect_load_spread(recommendation["spread"]["load"]);
  for (const Json& mode : recommendation["modes"]) {
    EXPECT_EQ(keys(mode), (Keys{"mode", "max_lamps", "max_lamps_nominal", "limited_by", "next_limit",
                                "min_conduction_deg", "max_conduction_deg", "constraints"}));
    for (const Json& constraint : mode["constraints"]) {
      EXPECT_EQ(keys(constraint),
                (Keys{"name", "value", "limit", "unit", "max_lamps", "holds", "source", "sentence", "advice"}));
    }
  }
}

TEST(JsonKeys, Inspect) {
  Workplace place;
  place.write_resistor_capture("kettle.csv");
  const Outcome outcome = place.run({"inspect", "kettle.csv", "--json"});
  ASSERT_EQ(outcome.status, 0) << outcome.err;
  const Json document = Json::parse(outcome.out);
  EXPECT_EQ(keys(document), Keys{"captures"});
  ASSERT_EQ(document["captures"].size(), 1U);
  expect_capture(document["captures"][0], {"form", "first_rows", "segments", "harmonics"});
  // The file's own numbers: 230 V on 500 ohm, within the steps it was rounded to.
  EXPECT_NEAR(document["captures"][0]["active_power_w"].get<double>(), 230.0 * 230.0 / 500.0, 0.5);
  EXPECT_NEAR(document["captures"][0]["mains_frequency_hz"].get<double>(), 50.0, 0.01);
}

TEST(JsonKeys, CharacteriseFitRecommendShow) {
  Workplace place;
  place.write_resistor_capture("kettle.csv");
  place.write_dimmer("dimmer.json");
  const Outcome characterised =
      place.run({"characterise", "kettle.csv", "--lamp", "kettle", "--channel", "dimmer.json", "--json"});
  ASSERT_LE(characterised.status, 1) << characterised.out << characterised.err;
  const Json document = Json::parse(characterised.out);
  EXPECT_EQ(keys(document), (Keys{"lamp", "captures", "fit", "recommendation"}));
  EXPECT_EQ(document["lamp"], "kettle");
  expect_capture(document["captures"][0]);
  expect_fit(document["fit"]);
  expect_recommendation(document["recommendation"]);

  const Json fitted = Json::parse(place.run({"fit", "kettle", "--json"}).out);
  EXPECT_EQ(keys(fitted), (Keys{"lamp", "captures", "fit"}));
  expect_fit(fitted["fit"]);

  const Json one = Json::parse(place.run({"recommend", "kettle", "--channel", "boathouse dimmer", "--json"}).out);
  EXPECT_EQ(keys(one), (Keys{"lamp", "recommendation"}));
  expect_recommendation(one["recommendation"]);
  const Json all = Json::parse(place.run({"recommend", "kettle", "--json"}).out);
  EXPECT_EQ(keys(all), (Keys{"lamp", "recommendations"}));
  ASSERT_EQ(all["recommendations"].size(), 1U);
  expect_recommendation(all["recommendations"][0]);

  const Json shown = Json::parse(place.run({"show", "kettle", "--json"}).out);
  EXPECT_EQ(keys(shown), (Keys{"lamp", "notes", "nominal", "captures", "fit", "fits", "comparisons", "basis", "caution",
                               "superseded_by", "earlier"}));
  EXPECT_EQ(shown["fits"], 2);
  EXPECT_EQ(shown["captures"].size(), 1U) << "the same file is stored once";
}

TEST(JsonKeys, SeveralSamples) {
  Workplace place;
  place.write_resistor_capture("first.csv", 500.0);
  place.write_resistor_capture("second.csv", 520.0);
  // With the ohmmeter's reading, which tells a resistance from a hot filament.
  ASSERT_EQ(place.run({"import", "first.csv", "--lamp", "kettle", "--cold-resistance", "510"}).status, 0);
  const Outcome outcome =
      place.run({"characterise", "second.csv", "--lamp", "kettle", "--sample", "second piece", "--json"});
  ASSERT_LE(outcome.status, 1) << outcome.err;
  const Json fit = Json::parse(outcome.out)["fit"];
  expect_fit(fit);
  EXPECT_EQ(fit["samples"].size(), 2U);
  EXPECT_EQ(keys(fit["spread"]["parameters"]), Keys{"resistance_ohm"});
  const Json report = Json::parse(place.run({"fit", "kettle", "--report", "--json"}).out)["fit"];
  EXPECT_TRUE(report["report"].is_null());
  EXPECT_TRUE(report["samples"][1]["report"].is_object());
}

TEST(JsonKeys, ImportAndTheLibrary) {
  Workplace place;
  place.write_resistor_capture("kettle.csv");
  place.write_dimmer("dimmer.json");
  const Json imported = Json::parse(place.run({"import", "kettle.csv", "--lamp", "kettle", "--json"}).out);
  EXPECT_EQ(keys(imported), (Keys{"lamp", "captures"}));
  expect_capture(imported["captures"][0]);

  const Json lamps = Json::parse(place.run({"lamps", "--json"}).out);
  ASSERT_EQ(lamps["lamps"].size(), 1U);
  EXPECT_EQ(keys(lamps["lamps"][0]), (Keys{"name", "family", "load_law", "power_w", "voltage_rms_v", "captures", "fits",
                                           "time_utc", "trust", "base", "technology"}));
  const Json shown = Json::parse(place.run({"show", "kettle", "--json"}).out);
  EXPECT_TRUE(shown["fit"].is_null());

  EXPECT_EQ(Json::parse(place.run({"channels", "add", "dimmer.json", "--json"}).out),
            Json({{"added", {"boathouse dimmer"}}}));
  EXPECT_EQ(Json::parse(place.run({"channels", "list", "--json"}).out), Json({{"channels", {"boathouse dimmer"}}}));
  const Json channel = Json::parse(place.run({"channels", "show", "boathouse dimmer", "--json"}).out);
  EXPECT_EQ(channel["format"], "lampload-channel");
  EXPECT_EQ(Json::parse(place.run({"channels", "remove", "boathouse dimmer", "--yes", "--json"}).out),
            Json({{"removed", {"boathouse dimmer"}}}));
  EXPECT_EQ(Json::parse(place.run({"remove", "kettle", "--yes", "--json"}).out), Json({{"removed", {"kettle"}}}));
}

}  // namespace
}  // namespace lampload::test::json_keys_test
