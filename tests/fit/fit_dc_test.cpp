// Whole fits of lamps fed with DC: simulated by ngspice with real diodes, seen through a simulated instrument.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "core/error.h"
#include "core/standard_normal.h"
#include "fit/fit.h"
#include "tests/fit/estimate_checks.h"
#include "tests/fit/simulated_capture.h"

namespace lampload::fit_dc_test {
namespace {

using test::estimate;
using test::expect_near;

/// Chains of LEDs, all of them as one diode and its resistance, behind a cable.
struct Leds {
  double saturation_a, emission_v, ohm, cable_h;

  [[nodiscard]] std::string netlist() const {
    return fmt::format(
        "Lcable lamp far {:.9g} IC=0\nRdamp lamp far 2k\nCleds far 0 50p\nDleds far 0 leds\n.model leds D(IS={:.9g} "
        "N={:.9g} RS={:.9g})\n",
        cable_h, saturation_a, emission_v / 0.025864186, ohm);
  }
  /// Shockley's equation, by bisection in the logarithm of the current.
  [[nodiscard]] double current_a(double volt) const {
    double low = -60.0, high = 5.0;
    for (int n = 0; n < 100; ++n) {
      const double middle = 0.5 * (low + high);
      const double i = std::exp(middle);
      (ohm * i + emission_v * std::log1p(i / saturation_a) < volt ? low : high) = middle;
    }
    return std::exp(low);
  }
};

/// 24 V: seven white LEDs of 2.95 V at 20 mA and 168 Ohm in a string, a hundred of them, 1.5 m of cable.
const Leds strip24{4.6e-25, 0.364, 2.02, 1.5e-6};
/// Twelve white LEDs, 35 V at 350 mA.
const Leds chain12{1.6e-26, 0.6, 2.0, 0.3e-6};

struct Taking {
  std::vector<Capture> captures;
  std::vector<Figures> figures;

  void add(const Leds& leds, const std::string& source, double first_s, double duration_s,
           const test::Instrument& instrument) {
    captures.push_back(
        test::simulate_dc_capture(source, leds.netlist(), first_s, duration_s, instrument, captures.size() + 1)
            .capture);
    figures.push_back(measure(captures.back()));
  }
};

/// A supply that comes up within 12 ms.
std::string rising_supply(double volt) {
  return fmt::format("Vs supply 0 PWL(0 0 4m 0 16m {0} 1 {0})\nRs supply line 0.05\n", volt);
}
std::string pulses(double volt, double hz, double duty) {
  return fmt::format("Vs supply 0 PULSE(0 {} 0.1m 1u 1u {:.9g} {:.9g})\nRs supply line 0.08\n", volt, duty / hz,
                     1.0 / hz);
}

const test::Instrument scope{.sample_rate_hz = 250e3, .clamp_bandwidth_hz = 60e3, .clamp_delay_s = 3e-6};

TEST(DcLamps, StripByTurnOnAndPulses) {
  Taking taking;
  taking.add(strip24, rising_supply(24.0), 0.0, 0.06, scope);
  taking.add(strip24, pulses(24.0, 500.0, 0.3), 0.01, 0.04, scope);
  ASSERT_TRUE(taking.figures[0].turn_on);
  ASSERT_TRUE(taking.figures[1].direct && taking.figures[1].direct->pulses);
  EXPECT_NEAR(taking.figures[1].direct->pulses->frequency_hz, 500.0, 0.5);
  EXPECT_NEAR(taking.figures[1].direct->pulses->duty, 0.3, 0.005);
  FitOptions options;
  options.nominal.voltage_v = 24.0;
  const FitResult fit = fit_lamp(taking.captures, taking.figures, options);
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "strip");
  const double current = strip24.current_a(24.0);
  expect_near(fit, "rated_power_w", 24.0 * current, 0.03);
  // the tangent to the diodes' own curve where the strip works
  const double slope = strip24.ohm + strip24.emission_v / current;
  EXPECT_NEAR(estimate(fit, "string_voltage_v").value, 24.0 - slope * current, 0.4);
  EXPECT_NEAR(estimate(fit, "string_resistance_ohm").value, slope, 0.15 * slope);
}

TEST(DcLamps, StripByPulsesAloneIsKnownAtItsSupplyOnly) {
  Taking taking;
  taking.add(strip24, pulses(24.0, 1000.0, 0.25), 0.01, 0.04, scope);
  const FitResult fit = fit_lamp(taking.captures, taking.figures);
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "strip");
  EXPECT_FALSE(estimate(fit, "string_voltage_v").identified);
  EXPECT_EQ(estimate(fit, "string_voltage_v").remark, "what is usual: the captures add nothing");
  const double on_v = taking.figures[0].direct->on_voltage_v;
  expect_near(fit, "rated_power_w", on_v * strip24.current_a(on_v), 0.04);
}

TEST(DcLamps, StripByTwoSupplyVoltages) {
  Taking taking;
  for (const double volt : {24.0, 21.5}) {
    taking.add(strip24, fmt::format("Vs supply 0 PWL(0 0 1m {0} 1 {0})\nRs supply line 0.05\n", volt), 0.01, 0.03,
               scope);
    EXPECT_FALSE(taking.figures.back().direct->pulses);
  }
  const FitResult fit = fit_lamp(taking.captures, taking.figures);
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "strip");
  const double on_v = taking.figures[0].direct->on_voltage_v;
  const double current = strip24.current_a(on_v);
  expect_near(fit, "rated_power_w", on_v * current, 0.04);
  const double slope = strip24.ohm + strip24.emission_v / current;
  EXPECT_NEAR(estimate(fit, "string_voltage_v").value, on_v - slope * current, 0.5);
}

TEST(DcLamps, ALongCableShowsInTheEdgesThroughAFastProbe) {
  const Leds far{strip24.saturation_a, strip24.emission_v, strip24.ohm, 40e-6};
  const test::Instrument fast{
      .sample_rate_hz = 1e6, .clamp_bandwidth_hz = 200e3, .clamp_delay_s = 1e-6, .noise_steps = 0.3};
  Taking taking;
  taking.add(far, rising_supply(24.0), 0.0, 0.04, scope);
  taking.add(far, pulses(24.0, 1000.0, 0.3), 0.01, 0.012, fast);
  const FitResult fit = fit_lamp(taking.captures, taking.figures);
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "strip");
  EXPECT_TRUE(estimate(fit, "cable_inductance_h").identified);
  EXPECT_NEAR(estimate(fit, "cable_inductance_h").value, 40e-6, 8e-6);
}

TEST(DcLamps, AResistorOnADcSupplyThatRises) {
  std::vector<Capture> captures = {
      test::simulate_dc_capture(rising_supply(24.0), "Rheat lamp 0 12\n", 0.0, 0.06, scope, 1).capture};
  const std::vector<Figures> figures = {measure(captures[0])};
  const FitResult fit = fit_lamp(captures, figures);
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "resistor");
  expect_near(fit, "resistance_ohm", 12.0, 0.03);
}

TEST(DcLamps, EmitterByTurnOnAndPulses) {
  Taking taking;
  taking.add(chain12, "Is 0 line PWL(0 0 4m 0 16m 0.35 1 0.35)\n", 0.0, 0.06, scope);
  taking.add(chain12, "Is 0 line PULSE(0 0.35 0.1m 2u 2u 400u 1m)\n", 0.01, 0.04, scope);
  ASSERT_TRUE(taking.figures[1].direct && taking.figures[1].direct->pulses);
  EXPECT_NEAR(taking.figures[1].direct->pulses->frequency_hz, 1000.0, 1.0);
  EXPECT_NEAR(taking.figures[1].direct->pulses->duty, 0.4, 0.01);
  const FitResult fit = fit_lamp(taking.captures, taking.figures);
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "emitter");
  const double chain12_v = chain12.ohm * 0.35 + chain12.emission_v * std::log1p(0.35 / chain12.saturation_a);
  expect_near(fit, "forward_voltage_v", chain12_v, 0.01);
  expect_near(fit, "rated_power_w", 0.35 * chain12_v, 0.02);
  EXPECT_NEAR(estimate(fit, "emission_voltage_v").value, 0.6, 0.1);
  EXPECT_NEAR(estimate(fit, "series_resistance_ohm").value, 2.0, 1.0);
}

/// Of the chosen family and its rivals: how far this one is behind; far where it is not among them.
double distance_of(const FitResult& fit, const std::string& family) {
  if (fit.family == family) return 0.0;
  for (const Rival& rival : fit.rivals) {
    if (rival.family == family) return rival.distance;
  }
  return 1e9;
}

TEST(DcLamps, PulsesAloneHardlyTellBareLedsFromAStripButTheirPowerIsKnown) {
  Taking taking;
  taking.add(chain12, "Is 0 line PULSE(0 0.35 0.1m 2u 2u 400u 1m)\n", 0.01, 0.04, scope);
  const FitResult fit = fit_lamp(taking.captures, taking.figures);
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  EXPECT_LT(distance_of(fit, "emitter"), 20.0);
  const double chain12_v = chain12.ohm * 0.35 + chain12.emission_v * std::log1p(0.35 / chain12.saturation_a);
  expect_near(fit, "rated_power_w", 0.35 * chain12_v, 0.03);
}

TEST(DcLamps, AnEmitterByASteadyCaptureAndADcTable) {
  Taking taking;
  taking.add(chain12, "Is 0 line PWL(0 0 1m 0.35 1 0.35)\n", 0.01, 0.03, scope);
  FitOptions options;
  for (const double amperes : {0.0005, 0.002, 0.01, 0.05, 0.15, 0.25, 0.35, 0.5}) {
    const double volt = chain12.ohm * amperes + chain12.emission_v * std::log1p(amperes / chain12.saturation_a);
    options.nominal.dc_points.push_back({volt, amperes, std::nullopt});
  }
  const FitResult alone = fit_lamp(taking.captures, taking.figures);
  const FitResult both = fit_lamp(taking.captures, taking.figures, options);
  // One point is any lamp's; the table decides, and fills in what the captures leave open.
  EXPECT_LT(distance_of(alone, "emitter"), 5.0);
  EXPECT_LT(distance_of(alone, "strip"), 5.0);
  EXPECT_TRUE(both.accepted) << both.verdict;
  ASSERT_EQ(both.family, "emitter");
  EXPECT_GT(distance_of(both, "strip"), 50.0);
  ASSERT_EQ(both.report.observations.size(), 1U);
  EXPECT_TRUE(both.report.observations[0].counted) << both.report.observations[0].sentence;
  expect_near(both, "emission_voltage_v", 0.6, 0.1);
  expect_near(both, "series_resistance_ohm", 2.0, 0.3);
}

TEST(DcLamps, MainsAndDcDoNotGoTogether) {
  Taking taking;
  taking.add(strip24, pulses(24.0, 500.0, 0.3), 0.01, 0.04, scope);
  const auto mains = test::simulate_capture("Rheat lamp 0 500\n", test::Taken::steady, {}, {});
  taking.captures.push_back(mains.capture);
  taking.figures.push_back(measure(mains.capture));
  try {
    fit_lamp(taking.captures, taking.figures);
    FAIL() << "fitted";
  } catch (const Error& error) {
    EXPECT_EQ(error.message(), "it was taken on mains, other captures on DC");
  }
}

TEST(DcLamps, WithoutALampNothingIsFitted) {
  Taking taking;
  taking.captures.push_back(
      test::simulate_dc_capture(pulses(24.0, 500.0, 0.3), "Rnone lamp 0 1e7\n", 0.01, 0.04, scope, 1).capture);
  // 0.5 mA of noise on a clamp of 10 mA steps
  std::mt19937_64 random(1);
  for (double& i : taking.captures[0].current_a) i = 0.01 * std::round(0.4 * standard_normal(random));
  taking.captures[0].current_step_a = 0.01;
  taking.figures.push_back(measure(taking.captures[0]));
  EXPECT_THROW(fit_lamp(taking.captures, taking.figures), Error);
}

}  // namespace
}  // namespace lampload::fit_dc_test
