// Estimates of light: the black body and the filament against published figures, LEDs against their own current.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "core/lamp/filament.h"
#include "core/lamp/lamp.h"
#include "core/lamp/photometry.h"

namespace lampload::lamp_light_test {
namespace {

double light(std::string_view family, std::string_view load_law, const std::vector<double>& parameters,
             const std::vector<double>& state, double voltage_v, double current_a) {
  return find_family(family, load_law).light(parameters, state, voltage_v, current_a);
}

// The candela of 1948 to 1979: a black body at the freezing point of platinum has 60 cd/cm2. The 683 lm/W of today's
// definition were chosen to agree with it at 2042 K (CIPM 1977).
TEST(BlackBody, PlatinumPointIsTheOldCandela) { EXPECT_NEAR(black_body_luminance(2042.0), 60e4, 0.006 * 60e4); }

TEST(BlackBody, TableIsSmooth) {
  double before = 0.0;
  for (double t = 500.0; t <= 4600.0; t += 3.7) {
    const double here = black_body_luminance(t);
    EXPECT_GT(here, before) << t;
    before = here;
  }
  EXPECT_EQ(black_body_luminance(300.0), 0.0);
  EXPECT_EQ(black_body_luminance(5000.0), black_body_luminance(4600.0));
}

/// About 60 W at 230 V.
struct VoltageExponents {
  double flux, power, gas_share;
};
VoltageExponents exponents(const std::vector<double>& lamp) {
  const auto figure = [&](double voltage_v, std::string_view name) {
    for (const DerivedFigure& one : Filament::derived(lamp, {voltage_v, 50.0})) {
      if (one.name == name) return one.value;
    }
    return 0.0;
  };
  const auto flux = [&](double voltage_v) {
    return Filament::light(lamp, std::vector{figure(voltage_v, "hot_temperature_k"), 0.0}, 0.0, 0.0);
  };
  const double low_v = 0.95 * 230.0, high_v = 1.05 * 230.0;
  const double apart = std::log(high_v / low_v);
  const double gas_w = lamp[4] * (figure(230.0, "hot_temperature_k") - 300.0);
  return {std::log(flux(high_v) / flux(low_v)) / apart,
          std::log(figure(high_v, "rated_power_w") / figure(low_v, "rated_power_w")) / apart,
          gas_w / figure(230.0, "rated_power_w")};
}

// Luminous flux goes with voltage to the power of 3.4 to 3.5 (Standard Handbook for Electrical Engineers, 11th ed., p.
// 22-8, as cited for lamp rerating), power of 1.53 and flux of 3.42 (SPIE Field Guide to Illumination p. 21), for 95 to
// 105 % of the rated voltage. These are gas-filled lamps: the gas takes 20 % of a lamp of 40 W and 6 % of one of 1000 W
// (IES Lighting Handbook, 6-8). The law knows nothing of these exponents.
TEST(FilamentLight, VoltageExponentsOfAGasFilledLamp) {
  const VoltageExponents found = exponents({61.0, 0.88e-12, 2e-3, 0.5, 3e-3, 0.0});
  fmt::print("gas-filled filament: gas {:.1f} %, flux over voltage {:.3f}, power {:.3f}\n", 100.0 * found.gas_share,
             found.flux, found.power);
  EXPECT_GT(found.gas_share, 0.06);
  EXPECT_LT(found.gas_share, 0.20);
  EXPECT_NEAR(found.flux, 3.45, 0.1);
  EXPECT_NEAR(found.power, 1.55, 0.04);
}

// Without gas all power goes with T^4.5 and the temperature follows the voltage less. By hand: V^2 / R = k T^4.5 with R
// as T^1.205, and flux over temperature c2 / (lambda T), at 2770 K and the 0.57 um of that light as the eye sees it.
TEST(FilamentLight, VoltageExponentWithoutGas) {
  const VoltageExponents found = exponents({61.0, 1.0e-12, 2e-3, 0.5, 0.0, 0.0});
  const double temperature = 2.0 / (4.5 + 1.205);
  EXPECT_NEAR(found.flux, temperature * 14388.0 / (0.57 * 2770.0), 0.03 * found.flux);
}

// i by bisection of the string's law as docs/models/rectifier_capacitor.md gives it.
TEST(LedLight, StringCurrentAtTheBusVoltage) {
  const double volt = 200.0, ohm = 1500.0;
  const std::vector<double> lamp = {15.0, 0.0, 0.0, 1.6, 4.7e-6, 1.0, volt, ohm};
  for (const double bus_v : {200.0, 215.0, 240.0, 280.0}) {
    const double knee_v = 0.02 * volt;
    const double working_a = 0.16 * volt / ohm;
    double low = 1e-9, high = 1.0;
    for (int i = 0; i < 80; ++i) {
      const double a = 0.5 * (low + high);
      const double v = volt + ohm * a + knee_v * (std::log(a / working_a) - (a / working_a - 1.0));
      (v < bus_v ? low : high) = a;
    }
    EXPECT_NEAR(light("rectifier_capacitor", "led_string", lamp, {bus_v, 0.0}, 0.0, 0.0), low, 1e-6 * low) << bus_v;
  }
  EXPECT_EQ(light("rectifier_capacitor", "led_string", lamp, {150.0, 0.0}, 0.0, 0.0), 0.0);
}

TEST(LedLight, ConvertersAreDarkBelowTheirLockOut) {
  const std::vector<double> lamp = {15.0, 0.0, 0.0, 1.6, 4.7e-6, 0.0, 9.0};
  EXPECT_EQ(light("rectifier_capacitor", "constant_power", lamp, {45.0, 0.0}, 0.0, 0.0), 0.0);
  EXPECT_EQ(light("rectifier_capacitor", "constant_power", lamp, {300.0, 0.0}, 0.0, 0.0),
            light("rectifier_capacitor", "constant_power", lamp, {80.0, 0.0}, 0.0, 0.0));
}

TEST(LedLight, SegmentsLightOneAfterTheOther) {
  // drop, input capacitance, bleed, then voltage and current of two taps
  const std::vector<double> lamp = {1.0, 0.0, 1e6, 100.0, 0.02, 200.0, 0.03};
  EXPECT_EQ(light("linear_driver", "two_taps", lamp, {}, 90.0, 0.0), 0.0);
  EXPECT_NEAR(light("linear_driver", "two_taps", lamp, {}, -150.0, 0.0), 100.0 * 0.02, 1e-12);
  EXPECT_NEAR(light("linear_driver", "two_taps", lamp, {}, 300.0, 0.0), 200.0 * 0.03, 1e-12);
}

TEST(Light, EveryEstimateSaysItsLawAndIsDarkAtRest) {
  int with = 0;
  for (const FamilyInfo& family : lamp_families()) {
    EXPECT_EQ(family.light == nullptr, family.light_law.empty()) << family.name;
    if (family.light == nullptr) continue;
    ++with;
    std::vector<double> parameters, rest;
    for (const ParameterSpec& spec : family.parameters) {
      parameters.push_back(spec.optional ? spec.absent : std::sqrt(std::max(spec.lower, 1e-30) * spec.upper));
    }
    for (const StateSpec& state : family.states) rest.push_back(state.rest);
    EXPECT_EQ(family.light(parameters, rest, 0.0, 0.0), 0.0) << family.name << " " << family.load_law;
  }
  EXPECT_EQ(with, 11);
}

}  // namespace
}  // namespace lampload::lamp_light_test
