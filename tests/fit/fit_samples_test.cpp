// Whole fits of the boathouse's sample captures: made by ngspice from circuits richer than the project's equations and
// seen through a simulated instrument (sample_captures/README.md). Their true values stand in
// sample_captures/truth.json.

#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>

#include "core/capture/read.h"
#include "fit/fit.h"
#include "tests/fit/estimate_checks.h"
#include "tests/places.h"

namespace lampload::fit_samples_test {
namespace {

const std::string samples = test::samples_folder();

nlohmann::json truth_of(const std::string& folder) {
  std::ifstream file(samples + "truth.json");
  const nlohmann::json truth = nlohmann::json::parse(file);
  for (const auto& lamp : truth.at("lamps")) {
    if (lamp.at("folder") == folder) return lamp;
  }
  ADD_FAILURE() << folder << " is not in truth.json";
  return {};
}

struct Read {
  std::vector<Capture> captures;
  std::vector<Figures> figures;
};

Read read(const nlohmann::json& lamp) {
  Read read;
  for (const auto& [file, truth] : lamp.at("captures").items()) {
    read.captures.push_back(read_capture(samples + lamp.at("folder").get<std::string>() + "/" + file));
    read.figures.push_back(measure(read.captures.back()));
  }
  return read;
}

struct Goal {
  const char* name;
  double relative;
};

/// Every goal met, and the truth inside at least nine tenths of the intervals.
void expect_goals(const FitResult& fit, const nlohmann::json& lamp, const std::vector<Goal>& goals) {
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  EXPECT_EQ(fit.family, lamp.at("family").get<std::string>());
  nlohmann::json truth = lamp.at("parameters");
  truth.update(lamp.at("derived"));
  // The terminals cannot tell the reservoir's resistance from the one in series with the bridge.
  if (truth.contains("reservoir_esr_ohm")) {
    truth["series_resistance_ohm"] =
        truth["series_resistance_ohm"].get<double>() + truth["reservoir_esr_ohm"].get<double>();
  }
  std::vector<Estimate> all = fit.parameters;
  all.insert(all.end(), fit.derived.begin(), fit.derived.end());
  std::size_t inside = 0;
  for (const Goal& goal : goals) {
    const auto estimate =
        std::find_if(all.begin(), all.end(), [&](const Estimate& one) { return one.name == goal.name; });
    ASSERT_NE(estimate, all.end()) << goal.name;
    const double expected = truth.at(goal.name);
    EXPECT_NEAR(estimate->value / expected, 1.0, goal.relative) << goal.name;
    EXPECT_TRUE(estimate->identified) << goal.name;
    if (estimate->lower_95 <= expected && expected <= estimate->upper_95) ++inside;
  }
  EXPECT_GE(10 * inside, 9 * goals.size());
}

TEST(SampleLamps, FilamentPendant) {
  const nlohmann::json lamp = truth_of("simulated_clubroom_pendant_60w");
  const Read data = read(lamp);
  const FitResult fit = fit_lamp(data.captures, data.figures);
  expect_goals(fit, lamp,
               {{"cold_resistance_ohm", 0.05},
                {"hot_resistance_ohm", 0.02},
                {"heat_capacity_j_per_k", 0.08},
                {"hot_temperature_k", 0.03}});
  EXPECT_LT(fit.normalised_residual, 1.3);
  EXPECT_GT(fit.rivals.front().distance, 10.0);
}

TEST(SampleLamps, LedCandleWithStringThroughResistor) {
  const nlohmann::json lamp = truth_of("simulated_stair_candle_led_5w");
  const Read data = read(lamp);
  const FitResult fit = fit_lamp(data.captures, data.figures);
  EXPECT_EQ(fit.load_law, "led_string");
  expect_goals(fit, lamp,
               {{"series_resistance_ohm", 0.05}, {"reservoir_capacitance_f", 0.03}, {"string_voltage_v", 0.04}});
}

TEST(SampleLamps, LedBattenWithChokeAndInputCapacitor) {
  const nlohmann::json lamp = truth_of("simulated_workshop_batten_led_12w");
  const Read data = read(lamp);
  const FitResult fit = fit_lamp(data.captures, data.figures);
  // Its load takes constant current. The ringing after the leading edge, undersampled here, hides that, and draws the
  // choke's 1 mH a tenth too low; the rest of the front end and the power are there all the same.
  EXPECT_EQ(fit.family, "rectifier_capacitor");
  expect_goals(fit, lamp,
               {{"series_resistance_ohm", 0.05}, {"input_capacitance_f", 0.05}, {"reservoir_capacitance_f", 0.03}});
  const double power_w = test::estimate(fit, "rated_power_w").value;
  EXPECT_NEAR(power_w, lamp.at("captures").at("steady.csv").at("exact").at("active_power_w").get<double>(),
              0.03 * power_w);
}

TEST(SampleLamps, StripOnDirectCurrent) {
  const nlohmann::json lamp = truth_of("simulated_boat_rack_strip_24v");
  const Read data = read(lamp);
  FitOptions options;
  options.nominal.voltage_v = 24.0;
  const FitResult fit = fit_lamp(data.captures, data.figures, options);
  expect_goals(fit, lamp, {{"string_voltage_v", 0.02}, {"string_resistance_ohm", 0.05}, {"rated_power_w", 0.05}});
  for (std::size_t i = 0; i < data.figures.size(); ++i) {
    const auto& exact = std::next(lamp.at("captures").begin(), static_cast<std::ptrdiff_t>(i)).value().at("exact");
    ASSERT_TRUE(data.figures[i].direct);
    // two steps of 8 bits: offset and converter
    EXPECT_NEAR(data.figures[i].direct->on_voltage_v, exact.at("on").at("voltage_v").get<double>(), 0.5);
    EXPECT_NEAR(data.figures[i].direct->on_current_a, exact.at("on").at("current_a").get<double>(), 0.04);
  }
}

double relative_width(const Estimate& estimate) { return (estimate.upper_95 - estimate.lower_95) / estimate.value; }

TEST(SampleLamps, WithoutATurnOnTheColdResistanceIsKnownFarWorse) {
  const nlohmann::json lamp = truth_of("simulated_clubroom_pendant_60w");
  const double truth = lamp.at("parameters").at("cold_resistance_ohm");
  const Read all = read(lamp);
  const Capture steady = read_capture(samples + "simulated_clubroom_pendant_60w/steady.csv");
  const std::vector<Figures> figures = {measure(steady)};
  const FitResult with = fit_lamp(all.captures, all.figures);
  const FitResult without = fit_lamp(std::span(&steady, 1), figures);
  ASSERT_EQ(without.family, "filament");
  // What the lamp's flicker tells of its temperature is used well: more than twice as wide.
  EXPECT_GT(relative_width(without.parameters.front()), 2.0 * relative_width(with.parameters.front()));
  EXPECT_LT(without.parameters.front().lower_95, truth);
  EXPECT_GT(without.parameters.front().upper_95, truth);
  EXPECT_EQ(without.next_capture.capture, "turn_on");
  EXPECT_FALSE(without.next_capture.narrows.empty());
}

/// Of the other captures of the same lamp, the advised one leaves the smallest uncertainty of what it was advised for.
TEST(SampleLamps, TheAdvisedCaptureNarrowsMost) {
  const std::string folder = samples + "simulated_clubroom_pendant_60w/";
  const nlohmann::json lamp = truth_of("simulated_clubroom_pendant_60w");
  const auto width_with = [&](const std::vector<std::string>& files) {
    std::vector<Capture> captures;
    std::vector<Figures> figures;
    for (const std::string& file : files) {
      captures.push_back(read_capture(folder + file));
      figures.push_back(measure(captures.back()));
    }
    return std::pair(relative_width(fit_lamp(captures, figures).parameters.front()), figures.back());
  };
  double turn_on = 0.0, narrowest_other = 1e9;
  for (const auto& [file, truth] : lamp.at("captures").items()) {
    if (file == "steady.csv") continue;
    const auto [width, figures] = width_with({"steady.csv", file});
    if (figures.turn_on) {
      turn_on = width;
    } else {
      narrowest_other = std::min(narrowest_other, width);
    }
  }
  EXPECT_GT(turn_on, 0.0);
  EXPECT_LT(turn_on, narrowest_other);
}

TEST(SampleLamps, AnOhmmetersReadingIdentifiesTheColdResistance) {
  const Capture capture = read_capture(samples + "simulated_clubroom_pendant_60w/steady.csv");
  const std::vector<Figures> figures = {measure(capture)};
  FitOptions options;
  options.nominal.cold_resistance_ohm = 60.6;
  const FitResult fit = fit_lamp(std::span(&capture, 1), figures, options);
  EXPECT_TRUE(fit.parameters.front().identified);
  EXPECT_NEAR(fit.parameters.front().value, 60.6, 2.0);
}

TEST(SampleLamps, TheNumberOfThreadsChangesNothing) {
  const nlohmann::json lamp = truth_of("simulated_stair_candle_led_5w");
  Read data = read(lamp);
  FitOptions one;
  one.threads = 1;
  FitOptions three;
  three.threads = 3;
  const FitResult a = fit_lamp(data.captures, data.figures, one);
  const FitResult b = fit_lamp(data.captures, data.figures, three);
  for (std::size_t j = 0; j < a.parameters.size(); ++j) EXPECT_EQ(a.parameters[j].value, b.parameters[j].value);
  EXPECT_EQ(a.covariance, b.covariance);
  for (std::size_t f = 0; f < a.report.families.size(); ++f) {
    const auto& starts = a.report.families[f].starts;
    ASSERT_EQ(starts.size(), b.report.families[f].starts.size());
    for (std::size_t n = 0; n < starts.size(); ++n) EXPECT_EQ(starts[n].misfit, b.report.families[f].starts[n].misfit);
  }
}

}  // namespace
}  // namespace lampload::fit_samples_test
