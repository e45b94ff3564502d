// What uncut captures do not tell apart. A corrected driver's converter is there to draw the current of a resistance
// (IEC 61000-3-2 asks it of lamps above 25 W), a filament is one as long as its temperature stays what it is.

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "core/circuit/simulated_capture.h"
#include "core/lamp/lamp.h"
#include "fit/fit.h"

namespace lampload::look_alikes_test {
namespace {

Capture of_resistance(Edge edge, bool turn_on) {
  CaptureSetup setup;
  setup.edge = edge;
  setup.turn_on = turn_on;
  setup.conduction_deg = edge == Edge::none ? 180.0 : 90.0;
  setup.voltage_step_v = 3.0;
  Capture capture = simulate_capture(Lamp(find_family("resistor", ""), {500.0}), 230.0, 50.0, setup);
  capture.file = "resistance";
  return capture;
}

FitResult fit_of(const std::vector<Capture>& captures) {
  std::vector<Figures> figures;
  for (const Capture& capture : captures) figures.push_back(measure(capture));
  FitOptions options;
  const auto families = lamp_families();
  for (std::size_t f = 0; f < families.size(); ++f) {
    if (families[f].name == "resistor" || !families[f].plain_until.empty()) options.families.push_back(f);
  }
  return fit_lamp(captures, figures, options);
}

/// How far behind the chosen family this one is; far where it is not among the rivals.
double behind(const FitResult& fit, const std::string& family) {
  double least = 1e9;
  for (const Rival& rival : fit.rivals) {
    if (rival.family == family) least = std::min(least, rival.distance);
  }
  return least;
}

TEST(LookAlikes, ThoseOfAnUncutResistanceAreRivalsAndACaptureIsAskedFor) {
  const FitResult fit = fit_of({of_resistance(Edge::none, false)});
  ASSERT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "resistor");
  EXPECT_LT(behind(fit, "filament"), 10.0);
  EXPECT_LT(behind(fit, "corrected_driver"), 10.0);
  EXPECT_EQ(fit.next_capture.narrows, "family");
  ASSERT_TRUE(fit.next_capture.advised);
  EXPECT_TRUE(fit.next_capture.capture == "turn_on" || fit.next_capture.capture == "leading_edge");
}

TEST(LookAlikes, WhatWouldShowThemRulesThemOut) {
  const FitResult fit =
      fit_of({of_resistance(Edge::none, false), of_resistance(Edge::leading, false), of_resistance(Edge::none, true)});
  ASSERT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "resistor");
  EXPECT_GT(behind(fit, "filament"), 10.0);
  EXPECT_GT(behind(fit, "corrected_driver"), 10.0);
  EXPECT_FALSE(fit.next_capture.advised) << fit.next_capture.sentence;
}

}  // namespace
}  // namespace lampload::look_alikes_test
