// The rectifier with reservoir against closed forms and integrated references.

#include "core/lamp/rectifier_capacitor.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "core/error.h"
#include "core/lamp/lamp.h"
#include "core/lamp/settled_cycle.h"
#include "tests/reference/rectifier.h"

namespace lampload::lamp_rectifier_test {
namespace {

using std::numbers::pi;

/// One settled mains cycle.
struct Cycle {
  double power_w = 0.0, current_rms_a = 0.0, current_peak_a = 0.0, bridge_mean_a = 0.0;
  double reservoir_mean_v = 0.0, reservoir_rms_v = 0.0, reservoir_min_v = 1e9, reservoir_max_v = 0.0;
};

template <class Load>
Cycle settle(const std::vector<double>& parameters, double peak_v, double frequency_hz, double start_v, int cycles,
             int steps = 4000) {
  const BridgeModel<double, Load> model{std::span<const double>(parameters)};
  const double dt = 1.0 / frequency_hz / steps;
  std::array<double, 2> state = {start_v, 0.0};
  Cycle c;
  for (int cycle = 0; cycle < cycles; ++cycle) {
    c = {};
    for (int i = 0; i < steps; ++i) {
      const double v0 = peak_v * std::sin(2.0 * pi * i / steps);
      const double v1 = peak_v * std::sin(2.0 * pi * (i + 1) / steps);
      const double before = state[0];
      const auto step = model.advance(state, v0, v1, dt);
      c.power_w += 0.5 * (v0 + v1) * step.charge_c * frequency_hz;
      c.current_rms_a += step.charge_c * step.charge_c / dt * frequency_hz;
      c.bridge_mean_a += std::abs(step.charge_c) * frequency_hz;
      c.current_peak_a = std::max(c.current_peak_a, std::abs(step.current_a));
      c.reservoir_mean_v += 0.5 * (before + state[0]) / steps;
      c.reservoir_rms_v += (before * before + before * state[0] + state[0] * state[0]) / 3.0 / steps;
      c.reservoir_min_v = std::min(c.reservoir_min_v, state[0]);
      c.reservoir_max_v = std::max(c.reservoir_max_v, state[0]);
    }
    c.current_rms_a = std::sqrt(c.current_rms_a);
    c.reservoir_rms_v = std::sqrt(c.reservoir_rms_v);
  }
  return c;
}

/// Settled full-wave rectifier of unit peak voltage and unit load, times 100: a string without voltage is a resistor,
/// of the share of its resistance that is not the slope of its diodes.
Cycle resistive(double omega_c_r, double source_over_load, double start) {
  constexpr double load_ohm = 1000.0;
  const double capacitance_f = omega_c_r / (2.0 * pi * 50.0 * load_ohm);
  const std::vector<double> p = {source_over_load * load_ohm,
                                 0.0,
                                 0.0,
                                 0.0,
                                 capacitance_f,
                                 0.0,
                                 1e-9,
                                 load_ohm / (1.0 - 1.0 / LedStringLoad::working_share)};
  return settle<LedStringLoad>(p, 100.0, 50.0, 100.0 * start, 20 + static_cast<int>(0.4 * omega_c_r), 2000);
}

TEST(RectifierCapacitor, CapacitorInputCurves) {
  double worst = 0.0;
  for (const auto& row : test::schade_full_wave) {
    const Cycle c = resistive(row.omega_c_r, row.source_over_load, row.mean_over_peak);
    const double mean = c.reservoir_mean_v / 100.0;
    const double ripple = 100.0 * std::sqrt(std::max(0.0, std::pow(c.reservoir_rms_v / c.reservoir_mean_v, 2) - 1.0));
    // each pair of junctions carries every other pulse
    const double diode_mean_a = 0.5 * c.bridge_mean_a;
    const auto near = [&](double value, double reference, const char* what) {
      worst = std::max(worst, std::abs(value / reference - 1.0));
      EXPECT_NEAR(value, reference, 3e-3 * reference)
          << what << " at wCR " << row.omega_c_r << ", Rs/R " << row.source_over_load;
    };
    near(mean, row.mean_over_peak, "mean");
    near(ripple, row.ripple_rms_percent, "ripple");
    near(c.current_peak_a / diode_mean_a, row.peak_over_diode_mean, "peak");
    near(c.current_rms_a / std::numbers::sqrt2 / diode_mean_a, row.rms_over_diode_mean, "rms");
    near(c.power_w / (100.0 / std::numbers::sqrt2 * c.current_rms_a), row.line_power_factor, "power factor");
  }
  fmt::print("capacitor-input curves, {} rows: worst relative difference {:.2e}\n", test::schade_full_wave.size(),
             worst);
}

TEST(RectifierCapacitor, LargeReservoirLimit) {
  // Closed form: tan(theta) - theta = (pi/2) Rs/R, mean = peak cos(theta), peak current = peak (1 - cos theta) / Rs.
  for (const double ratio : {0.001, 0.01, 0.05, 0.1}) {
    double theta = std::cbrt(1.5 * pi * ratio);
    for (int i = 0; i < 50; ++i) {
      const double t = std::tan(theta);
      theta -= (t - theta - 0.5 * pi * ratio) / (t * t);
    }
    const Cycle c = resistive(2000.0, ratio, std::cos(theta));
    EXPECT_NEAR(c.reservoir_mean_v, 100.0 * std::cos(theta), 0.02) << ratio;
    EXPECT_NEAR(c.current_peak_a * ratio * 1000.0, 100.0 * (1.0 - std::cos(theta)), 0.05) << ratio;
  }
}

TEST(RectifierCapacitor, ConstantPowerLoad) {
  double worst = 0.0;
  for (const auto& row : test::constant_power_10w) {
    const std::vector<double> p = {row.series_ohm, 0.0, 0.0, 1.6, row.reservoir_f, 0.0, 10.0};
    const double peak_v = row.voltage_v * std::numbers::sqrt2;
    const Cycle c = settle<ConstantPowerLoad>(p, peak_v, row.frequency_hz, 0.95 * peak_v, 12);
    const auto near = [&](double value, double reference, double tolerance, const char* what) {
      worst = std::max(worst, std::abs(value / reference - 1.0));
      EXPECT_NEAR(value, reference, tolerance * reference)
          << what << " at " << row.voltage_v << " V, " << 1e6 * row.reservoir_f << " uF, " << row.series_ohm << " Ohm";
    };
    near(c.power_w, row.input_w, 3e-3, "power");
    near(c.current_rms_a, row.current_rms_a, 5e-3, "rms current");
    near(c.current_peak_a, row.current_peak_a, 1e-2, "peak current");
    near(c.power_w / (row.voltage_v * c.current_rms_a), row.power_factor, 5e-3, "power factor");
    near(c.reservoir_min_v, row.reservoir_min_v, 3e-3, "lowest reservoir voltage");
    near(c.reservoir_max_v, row.reservoir_max_v, 1e-3, "highest reservoir voltage");
  }
  fmt::print("constant power, {} rows: worst relative difference {:.2e}\n", test::constant_power_10w.size(), worst);
}

/// A step of voltage onto an empty reservoir with hardly any load, in steps of dt: peak current, time of the peak,
/// charge and I2t.
struct Inrush {
  double peak_a = 0.0, peak_s = 0.0, charge_c = 0.0, i2t_a2s = 0.0, reservoir_v = 0.0;
};
Inrush inrush(double voltage_v, double r, double l, double c, double dt) {
  const std::vector<double> p = {r, l, 0.0, 0.0, c, 0.0, 1e6, 1e9};
  const BridgeModel<double, LedStringLoad> model{std::span<const double>(p)};
  std::array<double, 2> state = {0.0, 0.0};
  Inrush out;
  model.advance(state, 0.0, voltage_v, 1e-12);
  out.peak_a = std::abs(state[1]);
  double before = state[1];
  for (double t = 0.0; t < 2e-3; t += dt) {
    const auto step = model.advance(state, voltage_v, voltage_v, dt);
    if (step.current_a > out.peak_a) out.peak_a = step.current_a, out.peak_s = t + dt;
    out.charge_c += step.charge_c;
    const double middle = 1.5 * step.charge_c / dt - 0.25 * (before + step.current_a);
    out.i2t_a2s += (before * before + 4.0 * middle * middle + step.current_a * step.current_a) * dt / 6.0;
    before = step.current_a;
  }
  out.reservoir_v = state[0];
  return out;
}

TEST(RectifierCapacitor, InrushThroughAResistor) {
  // Closed form: V/R, CV, V^2 C / (2R).
  const Inrush x = inrush(325.27, 10.0, 0.0, 10e-6, 1e-6);
  EXPECT_NEAR(x.peak_a, 32.527, 1e-4);
  EXPECT_NEAR(x.charge_c, 325.27 * 10e-6, 1e-8);
  EXPECT_NEAR(x.i2t_a2s, 0.0529003, 1e-5);
}

TEST(RectifierCapacitor, InrushThroughAnInductance) {
  // Closed forms of the series RLC circuit behind a bridge that blocks at the first zero of the current.
  struct Row {
    double v, r, l, c, peak_a, peak_s, i2t;
  };
  for (const Row& row : {Row{325.27, 0.5, 100e-6, 10e-6, 91.3837, 47.318e-6, 0.415194},
                         Row{325.27, 1.0, 100e-6, 10e-6, 82.0443, 45.221e-6, 0.335580},
                         Row{325.27, 5.0, 100e-6, 10e-6, 43.9267, 34.034e-6, 0.105769},
                         Row{325.27, 10.0, 100e-6, 10e-6, 27.1512, 26.639e-6, 0.0529},
                         Row{325.27, 0.4, 796e-6, 10e-6, 35.2135, 138.18e-6, 0.173791},
                         Row{325.27, 0.4, 796e-6, 100e-6, 103.633, 424.23e-6, 4.76305},
                         Row{169.7, 1.0, 50e-6, 22e-6, 72.9782, 43.338e-6, 0.281991}}) {
    const Inrush x = inrush(row.v, row.r, row.l, row.c, 0.1e-6);
    EXPECT_NEAR(x.peak_a, row.peak_a, 1e-4 * row.peak_a) << row.r << " Ohm";
    EXPECT_NEAR(x.peak_s, row.peak_s, 0.2e-6) << row.r << " Ohm";
    EXPECT_NEAR(x.i2t_a2s, row.i2t, 1e-4 * row.i2t) << row.r << " Ohm";
    const double alpha = row.r / (2.0 * row.l);
    const double damped = std::sqrt(std::max(0.0, 1.0 / (row.l * row.c) - alpha * alpha));
    const double overshoot = damped > 0.0 ? std::exp(-alpha * pi / damped) : 0.0;
    EXPECT_NEAR(x.reservoir_v, row.v * (1.0 + overshoot), 1e-4 * row.v) << row.r << " Ohm";
    // the same end whatever the step
    EXPECT_NEAR(inrush(row.v, row.r, row.l, row.c, 65e-6).reservoir_v, x.reservoir_v, 1e-3) << row.r << " Ohm";
  }
}

TEST(RectifierCapacitor, CoarseStepsOfAFastLamp) {
  // 5 Ohm and 5 uF (25 us) on steps of 20 us and 65 us: a ramp of one step to 325 V, then level, from empty.
  // Closed form: q(T) = s (T - tau (1 - e^(-T/tau))), then relaxation to 325 V.
  const double tau = 25e-6;
  for (const double dt : {20e-6, 65e-6}) {
    const std::vector<double> p = {5.0, 0.0, 0.0, 0.0, 5e-6, 0.0, 1e6, 1e9};
    const BridgeModel<double, LedStringLoad> model{std::span<const double>(p)};
    std::array<double, 2> state = {0.0, 0.0};
    const auto ramp = model.advance(state, 0.0, 325.0, dt);
    const double q = 325.0 / dt * (dt - tau * (1.0 - std::exp(-dt / tau)));
    EXPECT_NEAR(state[0], q, 1e-7 * q);
    EXPECT_NEAR(ramp.current_a, (325.0 - q) / 5.0, 1e-6);
    EXPECT_NEAR(ramp.charge_c, 5e-6 * q, 1e-11);
    model.advance(state, 325.0, 325.0, dt);
    EXPECT_NEAR(state[0], 325.0 - (325.0 - q) * std::exp(-dt / tau), 1e-6);
  }
}

TEST(RectifierCapacitor, StringTurnsOnInsideAStep) {
  // reservoir charged through 1000 Ohm past the string's knee, against small steps of the law's own equation
  const std::vector<double> p = {1000.0, 0.0, 0.0, 0.0, 1e-6, 0.0, 200.0, 1000.0};
  const BridgeModel<double, LedStringLoad> model{std::span<const double>(p)};
  std::array<double, 2> state = {0.0, 0.0};
  model.advance(state, 0.0, 300.0, 1e-12);
  model.advance(state, 300.0, 300.0, 2e-3);
  const double knee_v = LedStringLoad::knee_share * 200.0;
  const double working_a = LedStringLoad::working_share * knee_v / 1000.0;
  const auto string_a = [&](double v) {
    double low = 0.0, high = 1.0;
    for (int i = 0; i < 60; ++i) {
      const double a = 0.5 * (low + high);
      const double u = a / working_a;
      (200.0 + 1000.0 * a + knee_v * (std::log(u) - (u - 1.0)) < v ? low : high) = a;
    }
    return low;
  };
  const auto slope = [&](double v) { return ((300.0 - v) / 1000.0 - string_a(v)) / 1e-6; };
  double v = 0.0;
  const double h = 1e-6;
  for (int i = 0; i < 2000; ++i) {
    const double k1 = slope(v), k2 = slope(v + 0.5 * h * k1), k3 = slope(v + 0.5 * h * k2), k4 = slope(v + h * k3);
    v += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
  }
  EXPECT_NEAR(state[0], v, 0.02);  // the model takes the curve as tangents, and a resistance below the knee
}

TEST(RectifierCapacitor, InputCapacitanceCarriesItsChargeExactly) {
  const std::vector<double> p = {20.0, 0.0, 1e-7, 1.6, 5e-6, 0.0, 8.0};
  const BridgeModel<double, ConstantPowerLoad> model{std::span<const double>(p)};
  std::array<double, 2> state = {300.0, 0.0};
  const auto step = model.advance(state, 100.0, 60.0, 20e-6);
  EXPECT_DOUBLE_EQ(step.charge_c, -40.0 * 1e-7);
  EXPECT_NEAR(step.current_a, -40.0 * 1e-7 / 20e-6, 1e-15);
}

TEST(RectifierCapacitor, DerivedFiguresAreThoseOfTheSettledCycle) {
  const auto& row = test::constant_power_10w[12];
  const std::vector<double> p = {row.series_ohm, 0.0, 0.0, 1.6, row.reservoir_f, 0.0, 10.0};
  const FamilyInfo& family = find_family("rectifier_capacitor", "constant_power");
  const auto figures = family.derived(p, {row.voltage_v, row.frequency_hz});
  ASSERT_EQ(figures.size(), 4u);
  EXPECT_NEAR(figures[0].value, row.input_w, 0.01 * row.input_w);
  EXPECT_NEAR(figures[1].value, row.power_factor, 0.02 * row.power_factor);
  EXPECT_NEAR(figures[3].value, row.reservoir_max_v - row.reservoir_min_v, 0.5);
}

TEST(RectifierCapacitor, StartsComeFromTheWaveform) {
  // hints as a capture of the settled reference lamp would give them
  const auto& row = test::constant_power_10w[12];  // 230 V, 10 uF, 2 Ohm
  StartHints hints;
  hints.frequency_hz = 50.0;
  hints.voltage_rms_v = 230.0;
  hints.voltage_peak_v = 325.27;
  hints.current_rms_a = row.current_rms_a;
  hints.active_power_w = row.input_w;
  hints.conduction_start_deg = 66.1;
  hints.conduction_stop_deg = 90.9;
  hints.turn_on_peak_a = 150.0;
  hints.turn_on_voltage_v = 310.0;
  const auto starts = RectifierCapacitor<ConstantPowerLoad>::starts(hints);
  ASSERT_GE(starts.size(), 3u);
  EXPECT_NEAR(starts[0][0], 2.0, 0.2);
  EXPECT_NEAR(starts[0][4], row.reservoir_f, 0.2 * row.reservoir_f);
  EXPECT_NEAR(starts[0][6], 10.0, 0.5);
}

// Series R and C on a ramp of voltage from rest: i = C r (1 - exp(-t / RC)), r the slope; any step the same.
TEST(Damper, RampOfVoltageIsTheClosedForm) {
  const Damper<double> damper(1e-7, 470.0);
  for (const int parts : {1, 7}) {
    double capacitor_v = 0.0;
    Step<double> step{};
    for (int k = 0; k < parts; ++k) {
      step = damper.advance(capacitor_v, 300.0 * k / parts, 300.0 * (k + 1) / parts, 1e-4 / parts);
    }
    const double slope = 300.0 / 1e-4;
    const double current_a = 1e-7 * slope * (1.0 - std::exp(-1e-4 / 47e-6));
    EXPECT_NEAR(step.current_a, current_a, 1e-12);
    EXPECT_NEAR(capacitor_v, 300.0 - 470.0 * current_a, 1e-9);
  }
}

// Textbook thermistor: B from two points, and the heat balance at rest, warming and cooling.
TEST(InrushLimiter, ResistanceAndTemperature) {
  const InrushLimiter<double> limiter(10.0, 3000.0, 5e-3, 20.0);
  EXPECT_DOUBLE_EQ(limiter.resistance_ohm(298.15), 10.0);
  EXPECT_NEAR(std::log(10.0 / limiter.resistance_ohm(358.15)) / (1.0 / 298.15 - 1.0 / 358.15), 3000.0, 1e-9);
  EXPECT_DOUBLE_EQ(limiter.warmed(298.15, 0.0, 1.0), 298.15);
  EXPECT_NEAR(limiter.warmed(398.15, 0.0, 20.0), 298.15 + 100.0 * std::exp(-1.0), 1e-9);
  // 1000 A2 for 100 us into 0.1 J/K: 10 K, were the resistance not to fall by b = B / T^2 a kelvin; ln(1 + 10 b) / b
  const double b = 3000.0 / (298.15 * 298.15);
  EXPECT_NEAR(limiter.warmed(298.15, 1000.0, 1e-4), 298.15 + std::log(1.0 + 10.0 * b) / b, 0.2);
  double temperature_k = 298.15;
  for (int i = 0; i < 10000; ++i) temperature_k = limiter.warmed(temperature_k, 0.04, 0.1);
  EXPECT_NEAR(0.04 * limiter.resistance_ohm(temperature_k), 5e-3 * (temperature_k - 298.15), 1e-9);
}

TEST(RectifierCapacitor, ALampMayEndBeforeItsPartsAndHasThemWholeOrNot) {
  const FamilyInfo& family = find_family("rectifier_capacitor", "constant_power");
  const std::vector<double> plain = {20.0, 0.0, 0.0, 1.6, 5e-6, 0.0, 8.0};
  EXPECT_EQ(Lamp(family, plain).parameters().size(), family.parameters.size());
  std::vector<double> half = plain;
  half.insert(half.end(), {33.0, 3000.0, 0.0, 30.0, 0.0, 0.0});
  try {
    const Lamp lamp(family, half);
    FAIL();
  } catch (const Error& error) {
    EXPECT_EQ(error.message(),
              "ntc_b_k = 3000 and ntc_dissipation_w_per_k = 0: of the part 'ntc' all parameters are given or none");
  }
}

// Whatever is not there changes nothing: the same lamp by the bridge alone and by the bridge with its parts.
TEST(RectifierCapacitor, WithoutPartsItIsTheBridgeAlone) {
  std::vector<double> p = {20.0, 1e-3, 2e-8, 1.6, 5e-6, 2.0, 200.0, 1500.0};
  const BridgeModel<double, LedStringLoad> alone{std::span<const double>(p)};
  p.resize(RectifierCapacitor<LedStringLoad>::parameters.size(), 0.0);
  const BridgeWithParts<double, LedStringLoad> with{std::span<const double>(p)};
  std::array<double, 2> a{};
  std::array<double, 4> b = {0.0, 0.0, 298.15, 0.0};
  for (int i = 0; i < 2000; ++i) {
    const auto volt = [](int k) { return 325.27 * std::sin(100.0 * std::numbers::pi * k * 20e-6); };
    const auto one = alone.advance(a, volt(i), volt(i + 1), 20e-6);
    const auto other = with.advance(b, volt(i), volt(i + 1), 20e-6);
    ASSERT_EQ(one.current_a, other.current_a);
    ASSERT_EQ(one.charge_c, other.charge_c);
  }
  EXPECT_EQ(b[2], 298.15);
  EXPECT_EQ(b[3], 0.0);
}

// A thermal time constant of half a minute, found within few cycles: the mean heat of a cycle is what is given off.
TEST(SlowState, SettlesWhereLossAndDissipationMeet) {
  const std::vector<double> p = {4.7, 0.0, 0.0, 1.6, 8e-6, 0.0, 10.0, 33.0, 3000.0, 4e-3, 30.0, 0.0, 0.0};
  const BridgeWithParts<double, ConstantPowerLoad> model{std::span<const double>(p)};
  const auto cycle =
      settled_cycle(model, std::array{300.0, 0.0, 298.15, 0.0}, OperatingPoint{230.0, 50.0}, {0.0, 0.0, 30.0, 0.0});
  const double ohm = 33.0 * std::exp(3000.0 * (1.0 / cycle.mean[2] - 1.0 / 298.15));
  EXPECT_NEAR(cycle.mean[2] - 298.15, cycle.current_rms_a * cycle.current_rms_a * ohm / 4e-3,
              0.02 * (cycle.mean[2] - 298.15));
  EXPECT_GT(cycle.mean[2], 310.0);
}

}  // namespace
}  // namespace lampload::lamp_rectifier_test
