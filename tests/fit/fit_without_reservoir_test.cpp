// Whole fits of lamps without a reservoir at their terminals: windings, linear drivers, drivers with power-factor
// correction. Simulated by ngspice with what the models have not (exponential diodes, soft knees, stray capacitance, a
// bus with its own loop), seen through a simulated instrument.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "fit/fit.h"
#include "tests/fit/estimate_checks.h"
#include "tests/fit/simulated_capture.h"

namespace lampload::fit_without_reservoir_test {
namespace {

using test::estimate;
using test::expect_near;
using test::Taken;

struct Taking {
  std::vector<Capture> captures;
  std::vector<Figures> figures;
};

Taking take(const std::string& lamp, const std::vector<Taken>& kinds, int settle_cycles = 6,
            const test::Instrument& instrument = {}) {
  Taking taking;
  for (const Taken one : kinds) {
    taking.captures.push_back(test::simulate_capture(lamp, one, {}, instrument, {}, settle_cycles).capture);
    taking.figures.push_back(measure(taking.captures.back()));
  }
  return taking;
}

FitResult fit_of(const Taking& taking) { return fit_lamp(taking.captures, taking.figures); }

TEST(WoundLamps, FanMotor) {
  // with 200 pF between its turns
  const FitResult fit =
      fit_of(take("Rw lamp a 180\nLw a 0 0.9 IC=0\nCw lamp 0 200p\n", {Taken::steady, Taken::turn_on}));
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "inductive");
  EXPECT_EQ(fit.load_law, "");
  expect_near(fit, "series_resistance_ohm", 180.0, 0.03);
  expect_near(fit, "series_inductance_h", 0.9, 0.02);
}

TEST(WoundLamps, TransformerWithALightLoad) {
  const FitResult fit =
      fit_of(take("Rw lamp a 40\nLleak a core 60m IC=0\nLcore core 0 3 IC=0\nRload core 0 900\nCw lamp 0 200p\n",
                  {Taken::steady, Taken::turn_on}));
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "inductive");
  EXPECT_EQ(fit.load_law, "transformer");
  expect_near(fit, "magnetising_inductance_h", 3.0, 0.1);
  expect_near(fit, "secondary_resistance_ohm", 900.0, 0.1);
  // 40 Ohm + j 18.85 Ohm + (900 Ohm beside j 942.5 Ohm) at 230 V
  EXPECT_NEAR(estimate(fit, "rated_power_w").value, 56.25, 1.0);
  EXPECT_NEAR(estimate(fit, "power_factor").value, 0.737, 0.01);
}

/// A bridge of real diodes, and a staircase of currents whose knees are those of LED strings.
std::string linear_driver(const std::vector<std::pair<double, double>>& taps, double input_f, double bleed_ohm) {
  std::string current;
  double before = 0.0;
  for (const auto& [volt, ampere] : taps) {
    current += fmt::format("{:+.9g}*0.5*(1+tanh((v(plus,minus)-{:.9g})/{:.9g}))", ampere - before, volt, 0.015 * volt);
    before = ampere;
  }
  return fmt::format(
      "Cin lamp 0 {:.9g}\nRbleed lamp 0 {:.9g}\nD1 lamp plus bridge\nD2 0 plus bridge\nD3 minus lamp bridge\n"
      "D4 minus 0 bridge\n.model bridge D(IS=7n N=1.8 RS=0.05 CJO=10p)\nBtaps plus minus I = {}\n",
      input_f, bleed_ohm, current);
}

TEST(DriverLamps, LinearWithThreeTaps) {
  const FitResult fit = fit_of(take(linear_driver({{95.0, 0.018}, {185.0, 0.036}, {265.0, 0.052}}, 2.2e-9, 5e5),
                                    {Taken::steady, Taken::leading_edge, Taken::trailing_edge}));
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "linear_driver");
  ASSERT_EQ(fit.load_law, "three_taps");
  expect_near(fit, "tap_voltage_1_v", 95.0, 0.02);
  expect_near(fit, "tap_voltage_2_v", 185.0, 0.02);
  expect_near(fit, "tap_voltage_3_v", 265.0, 0.02);
  expect_near(fit, "tap_current_1_a", 0.018, 0.03);
  expect_near(fit, "tap_current_2_a", 0.036, 0.03);
  expect_near(fit, "tap_current_3_a", 0.052, 0.03);
}

TEST(DriverLamps, LinearWithOneTapFromASteadyCaptureAlone) {
  const FitResult fit = fit_of(take(linear_driver({{230.0, 0.03}}, 1e-9, 1e6), {Taken::steady}));
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "linear_driver");
  ASSERT_EQ(fit.load_law, "one_tap");
  expect_near(fit, "tap_voltage_1_v", 230.0, 0.02);
  expect_near(fit, "tap_current_1_a", 0.03, 0.03);
}

/// A boost stage on a bus of 22 uF at 400 V whose voltage sets the conductance, up to what the on-time allows.
std::string corrected_driver(double series_ohm, double input_f, double largest_s, double power_w) {
  const double usual_s = power_w / (230.0 * 230.0);
  return fmt::format(
      "Rs lamp x {:.9g}\nCin x 0 {:.9g} IC=0\nD1 x plus bridge\nD2 0 plus bridge\nD3 minus x bridge\n"
      "D4 minus 0 bridge\n.model bridge D(IS=7n N=1.8 RS=0.05 CJO=10p)\n"
      "Bset set 0 V = min({:.9g}, max(0, {:.9g}*(1+0.02*(400-v(bus)))))\n"
      "Bstage plus minus I = v(set)*max(v(plus,minus),0)\n"
      "Bbus 0 bus I = (v(set)*max(v(plus,minus),0)^2-{:.9g})/max(v(bus),50)\nCbus bus 0 22u IC=400\n",
      series_ohm, input_f, largest_s, usual_s, power_w);
}

/// Its resistance and input capacitance make 7 us: at 250 kS/s the fit says that it does not know the resistance.
TEST(DriverLamps, CorrectedThatMeetsItsLimitBehindACut) {
  // at 90 degrees half of the mean square is left: twice the conductance would be needed, 1.6 times are there
  const double usual_s = 15.0 / (230.0 * 230.0);
  const FitResult fit =
      fit_of(take(corrected_driver(47.0, 1.5e-7, 1.6 * usual_s, 15.0),
                  {Taken::steady, Taken::leading_edge, Taken::trailing_edge}, 16, {.sample_rate_hz = 500e3}));
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "corrected_driver");
  expect_near(fit, "input_capacitance_f", 1.5e-7, 0.03);
  test::expect_near_but_loose(fit, "series_resistance_ohm", 47.0, 0.15);
  expect_near(fit, "power_w", 15.0, 0.03);
  test::expect_near_but_loose(fit, "conductance_s", 1.6 * usual_s, 0.06);
}

TEST(DriverLamps, CorrectedFromASteadyCaptureAlone) {
  const FitResult fit = fit_of(take(corrected_driver(12.0, 1.5e-7, 5e-4, 15.0), {Taken::steady}, 16));
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "corrected_driver");
  EXPECT_NEAR(estimate(fit, "rated_power_w").value, 15.0, 0.5);
  EXPECT_NEAR(estimate(fit, "input_capacitance_f").value, 1.5e-7, 0.1e-7);
  // an uncut lamp does not show what its converter could do at most
  EXPECT_FALSE(estimate(fit, "conductance_s").identified);
  EXPECT_FALSE(fit.next_capture.capture.empty());
  EXPECT_NE(fit.next_capture.capture, "steady");
}

}  // namespace
}  // namespace lampload::fit_without_reservoir_test
