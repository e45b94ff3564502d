// What the next capture is said to be worth.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "core/circuit/simulated_capture.h"
#include "core/lamp/lamp.h"
#include "fit/fit.h"

namespace lampload::next_capture_test {
namespace {

constexpr double peak_noise = 0.004;   // of the current's peak
constexpr std::size_t surge_peak = 2;  // in load_figure_names

/// One steady capture of a lamp whose digitiser has steps of this share of the peak, under the same noise in any case.
NextCapture advice_with_steps(double share) {
  const FamilyInfo& family = find_family("filament", "");
  const Lamp lamp(family, {61.0, 1.0e-12, 2.0e-3, 0.5, 0.0, 0.0});
  CaptureSetup setup;
  setup.current_step_of_peak = share;
  setup.noise_steps = peak_noise / share;
  setup.voltage_step_v = 325.0 * share;
  const Capture capture = simulate_capture(lamp, 230.0, 50.0, setup);
  const Figures figures = measure(capture);
  FitOptions options;
  options.families = {static_cast<std::size_t>(&family - lamp_families().data())};
  return fit_lamp({&capture, 1}, {&figures, 1}, options).next_capture;
}

// Shannon: what a channel tells is limited by its noise. Steps far finer than the noise add nothing to a capture.
TEST(NextCapture, FineStepsUnderTheSameNoisePromiseNoMore) {
  const NextCapture coarse = advice_with_steps(0.008);
  const NextCapture fine = advice_with_steps(0.0005);
  ASSERT_FALSE(coarse.considered.empty());
  ASSERT_EQ(coarse.considered.size(), fine.considered.size());
  for (std::size_t k = 0; k < fine.considered.size(); ++k) {
    const double ratio =
        fine.considered[k].figures.at(surge_peak).then / coarse.considered[k].figures.at(surge_peak).then;
    EXPECT_LT(std::abs(std::log(ratio)), std::log(1.5)) << k;
  }
}

// A filament's surge hangs on its cold resistance, which a steady capture hardly shows and a turn-on measures.
TEST(NextCapture, ATurnOnIsWorthMoreThanOneMoreSteadyCapture) {
  const NextCapture next = advice_with_steps(0.008);
  double steady = 0.0;
  double turn_on = 1e300;
  for (const CaptureValue& value : next.considered) {
    const double then = value.figures.at(surge_peak).then;
    if (value.setup.turn_on) turn_on = std::min(turn_on, then);
    if (!value.setup.turn_on && value.setup.edge == Edge::none) steady = then;
    for (const LoadFigure& figure : value.figures) EXPECT_LE(figure.then, figure.now * (1.0 + 1e-9)) << figure.name;
  }
  EXPECT_LT(turn_on, 0.8 * steady);
  EXPECT_EQ(next.capture, "turn_on");
}

}  // namespace
}  // namespace lampload::next_capture_test
