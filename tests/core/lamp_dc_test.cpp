// The steady current at DC: what the family's own model comes to, and closed forms.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <span>
#include <string>
#include <vector>

#include "core/lamp/lamp.h"
#include "core/lamp/tungsten.h"

namespace lampload::lamp_dc_test {
namespace {

/// Current after a long time at this voltage, from rest: the family's own steps.
double settled_current_a(const FamilyInfo& family, const std::vector<double>& values, double voltage_v) {
  const auto device = family.make_device(values);
  device->advance(0.0, voltage_v, 1e-3);
  double current = 0.0;
  // A wire that is hardly warmed needs minutes.
  for (int i = 0; i < 60000; ++i) current = device->advance(voltage_v, voltage_v, 1e-2).charge_c / 1e-2;
  return current;
}

struct Example {
  const char* family;
  const char* load_law;
  std::vector<double> values;
};

// Optional parts present: at DC inductance, input capacitance and the reservoir's resistance must not show.
const std::vector<Example> examples = {
    {"resistor", "", {529.0}},
    {"filament", "", {61.0, 1.0e-12, 2e-3, 0.5, 0.0, 0.0}},
    {"filament", "", {61.0, 1.0e-12, 2e-3, 0.4, 3e-3, 1e-3}},
    {"rectifier_capacitor", "constant_power", {15.0, 0.0, 0.0, 1.6, 5e-6, 0.0, 8.0}},
    {"rectifier_capacitor", "constant_power", {150.0, 1e-3, 1e-8, 1.6, 5e-6, 2.0, 8.0}},
    {"rectifier_capacitor", "constant_current", {150.0, 1e-3, 1e-8, 1.6, 5e-6, 2.0, 0.03}},
    {"rectifier_capacitor", "led_string", {15.0, 0.0, 0.0, 1.6, 5e-6, 0.0, 240.0, 1500.0}},
    {"rectifier_capacitor", "led_string", {150.0, 1e-3, 1e-8, 1.6, 5e-6, 2.0, 120.0, 800.0}},
    {"rectifier_capacitor",
     "constant_current",
     {15.0, 0.0, 0.0, 1.6, 5e-6, 0.0, 0.1, 30.0, 3000.0, 4e-3, 20.0, 4.7e-8, 470.0}},
    {"rectifier_capacitor",
     "constant_power",
     {15.0, 0.0, 0.0, 1.6, 5e-6, 0.0, 8.0, 30.0, 3000.0, 4e-3, 20.0, 0.0, 0.0}},
    {"rectifier_capacitor",
     "led_string",
     {15.0, 0.0, 0.0, 1.6, 5e-6, 0.0, 240.0, 1500.0, 30.0, 3000.0, 4e-3, 20.0, 0.0, 0.0}},
    {"strip", "", {20.5, 1.2, 0.0}},
    {"strip", "", {9.2, 2.5, 5e-6}},
    {"emitter", "", {1e-25, 0.62, 3.0}},
    {"emitter", "", {1e-15, 2.9, 30.0}},
};

TEST(SteadyDc, IsWhatTheModelSettlesAt) {
  for (const Example& one : examples) {
    const FamilyInfo& family = find_family(one.family, one.load_law);
    ASSERT_NE(family.dc_current_a, nullptr) << one.family;
    for (const double volt : {0.0, 1.0, 12.0, 45.0, 80.0, 150.0, 245.0, 325.0}) {
      const double expected = settled_current_a(family, one.values, volt);
      EXPECT_NEAR(family.dc_current_a(one.values, volt), expected, 2e-4 * std::abs(expected) + 1e-9)
          << one.family << '/' << one.load_law << " at " << volt << " V";
    }
  }
}

TEST(SteadyDc, EveryFamilyThatHasItIsChecked) {
  for (const FamilyInfo& family : lamp_families()) {
    if (family.dc_current_a == nullptr) continue;
    EXPECT_TRUE(
        std::any_of(examples.begin(), examples.end(),
                    [&](const Example& one) { return family.name == one.family && family.load_law == one.load_law; }))
        << family.name << '/' << family.load_law;
  }
}

TEST(SteadyDc, TurnsWithTheVoltageOrBlocks) {
  for (const Example& one : examples) {
    const FamilyInfo& family = find_family(one.family, one.load_law);
    for (const double volt : {1.0, 45.0, 150.0, 325.0}) {
      const double reversed = fed_by_mains(family.feed) ? -family.dc_current_a(one.values, volt) : 0.0;
      EXPECT_EQ(family.dc_current_a(one.values, -volt), reversed) << one.family;
    }
  }
}

TEST(SteadyDc, ConstantPowerBehindAResistanceIsTheUpperRootOfItsQuadratic) {
  // i v = P with v = V - drop - R i; the operating point that a supply can hold is the one at the higher voltage.
  const FamilyInfo& family = find_family("rectifier_capacitor", "constant_power");
  const double open = 200.0 - 1.6;
  const double bus = 0.5 * (open + std::sqrt(open * open - 4.0 * 150.0 * 8.0));
  EXPECT_NEAR(family.dc_current_a(std::vector<double>{150.0, 0.0, 0.0, 1.6, 5e-6, 0.0, 8.0}, 200.0), 8.0 / bus, 1e-12);
}

TEST(SteadyDc, ConstantCurrentIsThatCurrent) {
  const FamilyInfo& family = find_family("rectifier_capacitor", "constant_current");
  const std::vector<double> lamp = {150.0, 0.0, 0.0, 1.6, 5e-6, 0.0, 0.03};
  for (const double volt : {100.0, 200.0, 300.0}) EXPECT_DOUBLE_EQ(family.dc_current_a(lamp, volt), 0.03);
  EXPECT_EQ(family.dc_current_a(lamp, 1.5), 0.0);  // less than the bridge costs
}

TEST(SteadyDc, AnEmitterIsADiodeWithItsResistance) {
  // Shockley's equation the other way round: the voltage at a current.
  const FamilyInfo& family = find_family("emitter", "");
  for (const double current : {1e-9, 1e-4, 0.02, 0.35, 3.0}) {
    const double volt = 3.0 * current + 0.62 * std::log1p(current / 1e-25);
    EXPECT_NEAR(family.dc_current_a(std::vector<double>{1e-25, 0.62, 3.0}, volt) / current, 1.0, 1e-11) << current;
  }
}

TEST(SteadyDc, AStripFollowsTheCurveOfItsChains) {
  // The curve of docs/models/rectifier_capacitor.md; chords, and nothing below the first of them, cost 0.6 % of the
  // working current at most.
  const FamilyInfo& family = find_family("strip", "");
  const double volt = 20.5, ohm = 1.2, knee_v = 0.02 * volt, working_a = 8.0 * knee_v / ohm;
  for (double share = 0.004; share < 40.0; share *= 1.07) {
    const double at_v = volt + ohm * share * working_a + knee_v * (std::log(share) - (share - 1.0));
    const double apart = family.dc_current_a(std::vector<double>{volt, ohm, 0.0}, at_v) / working_a - share;
    EXPECT_LT(std::abs(apart), std::max(0.006, 0.001 * share)) << share;
  }
}

TEST(SteadyDc, AFilamentGivesOffWhatItTakes) {
  // Its temperature from its resistance, and the power that it loses there, by the law in filament.h.
  const FamilyInfo& family = find_family("filament", "");
  const std::vector<double> lamp = {61.0, 1.0e-12, 2e-3, 0.5, 1e-3, 0.0};
  for (const double volt : {20.0, 115.0, 230.0}) {
    const double current = family.dc_current_a(lamp, volt);
    const double ratio = volt / current / lamp[0];
    double low = 300.0;
    double high = 3600.0;
    while (high - low > 1e-6) {
      const double middle = 0.5 * (low + high);
      (tungsten_resistivity_ratio(middle).value < ratio ? low : high) = middle;
    }
    const double lost =
        1e-12 * (std::pow(low, 4) - std::pow(300.0, 4)) * std::sqrt(low / 2800.0) + 1e-3 * (low - 300.0);
    EXPECT_NEAR(volt * current, lost, 1e-4 * lost) << volt;
  }
}

}  // namespace
}  // namespace lampload::lamp_dc_test
