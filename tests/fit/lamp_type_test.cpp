// Several pieces of one lamp type, simulated by ngspice: what they differ in is found again, what the instrument does
// to all of them is not taken for it.

#include "fit/lamp_type.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <vector>

#include "core/error.h"
#include "tests/fit/estimate_checks.h"
#include "tests/fit/simulated_capture.h"

namespace lampload::lamp_type_test {
namespace {

using test::estimate;
using test::Taken;

// A wound lamp: no diode's curve between the truth and the model. Resistance and inductance of three pieces, drawn
// once: 6 % and 4 % about 180 Ohm and 0.45 H. No edges: a switch that opens by the clock would chop a winding's
// current, which no dimmer does.
struct Wound {
  double ohm;
  double henry;
};
const std::vector<Wound> pieces{{191.2, 0.441}, {173.9, 0.472}, {184.6, 0.455}};

SampleCaptures sample_of(const Wound& lamp, const std::string& label, double current_scale = 1.0) {
  SampleCaptures sample;
  sample.label = label;
  for (const Taken taken : {Taken::steady, Taken::turn_on}) {
    Capture capture =
        test::simulate_capture(
            fmt::format("Rlamp lamp inner {:.9g}\nLlamp inner 0 {:.9g}\nRpar inner 0 100k\n", lamp.ohm, lamp.henry),
            taken, {}, {})
            .capture;
    for (double& i : capture.current_a) i *= current_scale;
    capture.current_step_a *= current_scale;
    sample.figures.push_back(measure(capture));
    sample.captures.push_back(std::move(capture));
  }
  return sample;
}

std::vector<SampleCaptures> three_samples(double current_scale = 1.0) {
  std::vector<SampleCaptures> samples;
  for (std::size_t i = 0; i < pieces.size(); ++i)
    samples.push_back(sample_of(pieces[i], fmt::format("piece {}", i + 1), current_scale));
  return samples;
}

double log_sd(double Wound::*of) {
  double mean = 0.0;
  double square = 0.0;
  for (const Wound& piece : pieces) mean += std::log(piece.*of) / 3.0;
  for (const Wound& piece : pieces) square += std::pow(std::log(piece.*of) - mean, 2) / 2.0;
  return std::sqrt(square);
}

const NamedSpread& spread_of(const std::vector<NamedSpread>& list, const std::string& name) {
  const auto found = std::find_if(list.begin(), list.end(), [&](const auto& one) { return one.name == name; });
  if (found == list.end()) throw std::runtime_error("no spread of " + name);
  return *found;
}

/// Those that a wound lamp could be taken for; choosing among all is tested elsewhere.
FitOptions few_families() {
  FitOptions options = test::without_advice();
  const auto families = lamp_families();
  for (std::size_t f = 0; f < families.size(); ++f) {
    for (const char* name : {"resistor", "filament", "inductive"}) {
      if (families[f].name == name) options.families.push_back(f);
    }
  }
  return options;
}

/// Fitted once for all that is asked of them.
const LampTypeFit& as_they_are() {
  static const LampTypeFit fit = fit_lamp_type(three_samples(), few_families());
  return fit;
}

TEST(LampType, MeanAndSpreadOfThreePieces) {
  const LampTypeFit& fit = as_they_are();
  EXPECT_TRUE(fit.type.accepted) << fit.type.verdict;
  ASSERT_EQ(fit.type.family, "inductive");
  ASSERT_EQ(fit.samples.size(), 3U);
  double log_ohm = 0.0;
  double log_henry = 0.0;
  for (std::size_t i = 0; i < 3; ++i) {
    EXPECT_EQ(fit.samples[i].fit.family, "inductive");
    EXPECT_NEAR(estimate(fit.samples[i].fit, "series_resistance_ohm").value / pieces[i].ohm, 1.0, 0.02);
    log_ohm += std::log(pieces[i].ohm) / 3.0;
    log_henry += std::log(pieces[i].henry) / 3.0;
  }
  // What the clamp's delay does to all of them alike does not average out either.
  test::expect_near(fit.type, "series_resistance_ohm", std::exp(log_ohm), 0.03);
  test::expect_near(fit.type, "series_inductance_h", std::exp(log_henry), 0.03);
  const PieceSpread& ohm = spread_of(fit.parameters, "series_resistance_ohm").known;
  const PieceSpread& henry = spread_of(fit.parameters, "series_inductance_h").known;
  EXPECT_NEAR(ohm.measured, log_sd(&Wound::ohm), 0.01);
  EXPECT_NEAR(henry.measured, log_sd(&Wound::henry), 0.01);
  EXPECT_LE(ohm.lower_95, 0.06);  // what they were drawn with
  EXPECT_GE(ohm.upper_95, 0.06);
  EXPECT_LE(henry.lower_95, 0.04);
  EXPECT_GE(henry.upper_95, 0.04);

  // The load: currents of R and L in series on 230 V, by their impedance.
  std::vector<double> amperes;
  for (const Wound& piece : pieces)
    amperes.push_back(230.0 / std::hypot(piece.ohm, 100.0 * std::numbers::pi * piece.henry));
  double mean = 0.0;
  double square = 0.0;
  for (const double i : amperes) mean += std::log(i) / 3.0;
  for (const double i : amperes) square += std::pow(std::log(i) - mean, 2) / 2.0;
  EXPECT_NEAR(spread_of(fit.load, "continuous_current").known.measured, std::sqrt(square), 0.006);
  EXPECT_EQ(fit.type.load_spread.samples, 3);
  EXPECT_EQ(fit.type.load_spread.source, "mixture");
  EXPECT_EQ(fit.type.load_spread.continuous_current.spread, spread_of(fit.load, "continuous_current").known.spread);
  const LampEvidence known = evidence("wound", fit.type, {}, {});
  EXPECT_EQ(known.spread.samples, 3);
}

// The clamp reads all of them 3 % high: the mean is off by that, the spread is what it was.
TEST(LampType, AScaleErrorOfTheInstrumentIsNoSpread) {
  const LampTypeFit& right = as_they_are();
  const LampTypeFit high = fit_lamp_type(three_samples(1.03), few_families());
  const double shift = std::log(estimate(high.type, "series_resistance_ohm").value /
                                estimate(right.type, "series_resistance_ohm").value);
  EXPECT_NEAR(shift, -std::log(1.03), 0.004);
  for (const char* name : {"series_resistance_ohm", "series_inductance_h"}) {
    EXPECT_NEAR(spread_of(high.parameters, name).known.measured, spread_of(right.parameters, name).known.measured,
                0.002);
  }
  // What one clamp does to all of them does not average out: no more certain than its 1 %.
  const Estimate& ohm = estimate(right.type, "series_resistance_ohm");
  EXPECT_GT(ohm.standard_uncertainty / ohm.value, 0.01);
}

TEST(LampType, OneSampleIsThatSamplesFit) {
  const std::vector<SampleCaptures> one{sample_of(pieces[0], "only")};
  const LampTypeFit fit = fit_lamp_type(one);
  EXPECT_TRUE(fit.samples.empty());
  EXPECT_TRUE(fit.load.empty());
  const FitResult alone = fit_lamp(one[0].captures, one[0].figures);
  EXPECT_EQ(fit.type.family, "inductive");
  EXPECT_EQ(fit.type.covariance, alone.covariance);
  EXPECT_EQ(estimate(fit.type, "series_resistance_ohm").value, estimate(alone, "series_resistance_ohm").value);
  EXPECT_EQ(fit.type.load_spread.source, "default");
  EXPECT_EQ(fit.type.load_spread.continuous_current.spread, usual_spread);
}

// A steady capture alone does not tell a resistance from a hot filament; the turn-on of the other piece does, for both.
TEST(LampType, TheFamilyIsChosenForAllTogether) {
  const auto resistance = [](double ohm, const std::vector<Taken>& all, const std::string& label) {
    SampleCaptures sample;
    sample.label = label;
    for (const Taken taken : all) {
      sample.captures.push_back(
          test::simulate_capture(fmt::format("Rlamp lamp 0 {:.9g}\n", ohm), taken, {}, {}).capture);
      sample.figures.push_back(measure(sample.captures.back()));
    }
    return sample;
  };
  const std::vector<SampleCaptures> samples{resistance(500.0, {Taken::steady, Taken::turn_on}, "switched on"),
                                            resistance(520.0, {Taken::steady}, "only steady")};
  EXPECT_EQ(fit_lamp(samples[1].captures, samples[1].figures).family, "filament");
  const LampTypeFit fit = fit_lamp_type(samples);
  EXPECT_TRUE(fit.type.accepted) << fit.type.verdict;
  EXPECT_EQ(fit.type.family, "resistor");
  ASSERT_EQ(fit.samples.size(), 2U);
  EXPECT_EQ(fit.samples[1].fit.family, "resistor");
  EXPECT_NEAR(estimate(fit.samples[1].fit, "resistance_ohm").value, 520.0, 5.0);
  EXPECT_NEAR(estimate(fit.type, "resistance_ohm").value, std::sqrt(500.0 * 520.0), 5.0);
}

SampleCaptures closed_form(const std::string& label, const std::function<double(double angle)>& current) {
  SampleCaptures sample;
  sample.label = label;
  Capture& capture = sample.captures.emplace_back();
  capture.file = label;
  capture.sample_interval_s = 20e-6;
  for (int k = 0; k < 5000; ++k) {
    const double angle = 2.0 * std::numbers::pi * 50.0 * k * capture.sample_interval_s;
    capture.voltage_v.push_back(325.0 * std::sin(angle));
    capture.current_a.push_back(current(angle));
  }
  sample.figures.push_back(measure(capture));
  return sample;
}

TEST(LampType, APieceThatTheFamilyDoesNotDescribeIsLeftOut) {
  // Two windings, and a current in one direction only.
  const std::vector<SampleCaptures> samples{
      closed_form("first", [](double angle) { return 0.50 * std::sin(angle - 1.0); }),
      closed_form("broken", [](double angle) { return std::max(0.0, 0.5 * std::sin(angle)); }),
      closed_form("second", [](double angle) { return 0.53 * std::sin(angle - 1.0); })};
  const LampTypeFit fit = fit_lamp_type(samples);
  EXPECT_TRUE(fit.type.accepted) << fit.type.verdict;
  EXPECT_EQ(fit.type.family, "inductive");
  EXPECT_NE(fit.type.verdict.find("2 of 3 samples are described by this family; broken is left out: "),
            std::string::npos)
      << fit.type.verdict;
  ASSERT_EQ(fit.samples.size(), 3U);
  EXPECT_FALSE(fit.samples[1].fit.accepted);
  EXPECT_EQ(fit.type.load_spread.samples, 2);
  // 325 V over the geometric mean of the amplitudes, times the cosine.
  EXPECT_NEAR(estimate(fit.type, "series_resistance_ohm").value, 325.0 / std::sqrt(0.50 * 0.53) * std::cos(1.0), 4.0);
}

TEST(LampType, NeedsASample) { EXPECT_THROW(fit_lamp_type({}), Error); }

}  // namespace
}  // namespace lampload::lamp_type_test
