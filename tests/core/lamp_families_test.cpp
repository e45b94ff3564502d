// What every family must do, whatever it is: oddness, charge, convergence, slopes, finiteness, passivity.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "core/error.h"
#include "core/lamp/lamp.h"

namespace lampload::lamp_families_test {
namespace {

double middle(const ParameterSpec& spec) {
  return spec.logarithmic ? std::sqrt(spec.lower * spec.upper) : 0.5 * (spec.lower + spec.upper);
}

/// Plausible lamps of every family, by name; parameters a family has and this table does not know get their middle.
double plausible(const FamilyInfo& family, const ParameterSpec& spec) {
  if (family.name == "capacitive_dropper" && spec.name == "series_resistance_ohm") return 220.0;
  static const std::vector<std::pair<std::string_view, double>> known = {{"resistance_ohm", 529.0},
                                                                         {"cold_resistance_ohm", 66.0},
                                                                         {"radiation_w_per_k4", 9.8e-13},
                                                                         {"heat_capacity_j_per_k", 2e-3},
                                                                         {"emissivity_exponent", 0.5},
                                                                         {"conduction_w_per_k", 1e-4},
                                                                         {"series_resistance_ohm", 15.0},
                                                                         {"series_inductance_h", 1e-3},
                                                                         {"input_capacitance_f", 1e-8},
                                                                         {"rectifier_drop_v", 1.6},
                                                                         {"reservoir_capacitance_f", 5e-6},
                                                                         {"reservoir_esr_ohm", 2.0},
                                                                         {"load_power_w", 8.0},
                                                                         {"load_current_a", 0.03},
                                                                         {"series_capacitance_f", 3.3e-7},
                                                                         {"bleed_resistance_ohm", 1e6},
                                                                         {"string_voltage_v", 240.0},
                                                                         {"string_resistance_ohm", 1500.0},
                                                                         {"cable_inductance_h", 1e-3},
                                                                         {"saturation_current_a", 1e-24},
                                                                         {"emission_voltage_v", 4.5},
                                                                         {"magnetising_inductance_h", 2.0},
                                                                         {"secondary_resistance_ohm", 800.0},
                                                                         {"saturation_per_vs", 0.9},
                                                                         {"tap_voltage_1_v", 90.0},
                                                                         {"tap_current_1_a", 0.02},
                                                                         {"tap_voltage_2_v", 160.0},
                                                                         {"tap_current_2_a", 0.04},
                                                                         {"tap_voltage_3_v", 220.0},
                                                                         {"tap_current_3_a", 0.06},
                                                                         {"tap_voltage_4_v", 270.0},
                                                                         {"tap_current_4_a", 0.07},
                                                                         {"conductance_s", 3e-4},
                                                                         {"threshold_v", 10.0},
                                                                         {"power_w", 8.0},
                                                                         {"loop_time_s", 0.03},
                                                                         {"ntc_resistance_ohm", 20.0},
                                                                         {"ntc_b_k", 3000.0},
                                                                         {"ntc_dissipation_w_per_k", 5e-3},
                                                                         {"ntc_time_constant_s", 20.0},
                                                                         {"damper_capacitance_f", 4.7e-8},
                                                                         {"damper_resistance_ohm", 470.0}};
  for (const auto& [name, value] : known) {
    if (spec.name == name) return value;
  }
  return middle(spec);
}

std::vector<double> plausible_lamp(const FamilyInfo& family, bool with_optional) {
  std::vector<double> values;
  for (const ParameterSpec& spec : family.parameters) {
    values.push_back(spec.optional && !with_optional ? spec.absent : plausible(family, spec));
  }
  return values;
}

/// 230 V, 50 Hz, behind a leading-edge cut that rises within 20 us.
double cut_voltage(double t_s, double firing_deg = 70.0) {
  const double phase = std::fmod(t_s * 50.0 * 360.0, 180.0);
  const double half = std::fmod(std::floor(t_s * 100.0), 2.0) == 0.0 ? 1.0 : -1.0;
  const double full = 325.27 * std::sin(phase * std::numbers::pi / 180.0) * half;
  return full * std::clamp((phase - firing_deg) / 0.36, 0.0, 1.0);
}

class EveryFamily : public testing::TestWithParam<std::tuple<std::size_t, bool>> {
 protected:
  const FamilyInfo& family() const { return lamp_families()[std::get<0>(GetParam())]; }
  Lamp lamp() const { return {family(), plausible_lamp(family(), std::get<1>(GetParam()))}; }
};

TEST_P(EveryFamily, ReversedVoltageReversesTheCurrentOrIsBlocked) {
  if (!fed_by_mains(family().feed)) {
    const auto device = lamp().device();
    double forward_c = 0.0;
    for (int i = 0; i < 2000; ++i) {
      const double v0 = cut_voltage(i * 20e-6);
      const double v1 = cut_voltage((i + 1) * 20e-6);
      const auto step = device->advance(v0, v1, 20e-6);
      forward_c += step.charge_c;
      ASSERT_GE(step.charge_c, 0.0) << i;
      // an inductance takes some time to let go
      if (v0 < 0.0 && i % 500 > 450) {
        ASSERT_EQ(step.current_a, 0.0) << i;
      }
    }
    EXPECT_GT(forward_c, 0.0);
    return;
  }
  const auto forward = lamp().device();
  const auto reversed = lamp().device();
  for (int i = 0; i < 2000; ++i) {
    const double t = i * 20e-6;
    const auto a = forward->advance(cut_voltage(t), cut_voltage(t + 20e-6), 20e-6);
    const auto b = reversed->advance(-cut_voltage(t), -cut_voltage(t + 20e-6), 20e-6);
    ASSERT_EQ(a.current_a, -b.current_a) << i;
    ASSERT_EQ(a.charge_c, -b.charge_c) << i;
  }
}

TEST_P(EveryFamily, ChargeIsTheIntegralOfTheCurrent) {
  const auto device = lamp().device();
  const double dt = 0.2e-6;
  double charge = 0.0, integral = 0.0, largest = 0.0, before = 0.0;
  for (int i = 0; i < 50000; ++i) {  // one half cycle from cold
    const auto step = device->advance(cut_voltage(i * dt), cut_voltage((i + 1) * dt), dt);
    charge += step.charge_c;
    integral += 0.5 * (before + step.current_a) * dt;
    before = step.current_a;
    largest = std::max(largest, std::abs(charge));
  }
  EXPECT_NEAR(charge, integral, 2e-3 * largest);
}

TEST_P(EveryFamily, SmallerStepsComeToTheSameAnswer) {
  // state and energy after two cycles, 40 us steps and 20 us steps against 2.5 us
  const auto run = [&](int steps) {
    const auto device = lamp().device();
    const double dt = 40e-3 / steps;
    double energy = 0.0;
    for (int i = 0; i < steps; ++i) {
      const double at = i * dt;
      const double v0 = 325.27 * std::sin(100.0 * std::numbers::pi * at);
      const double v1 = 325.27 * std::sin(100.0 * std::numbers::pi * (at + dt));
      energy += 0.5 * (v0 + v1) * device->advance(v0, v1, dt).charge_c;
    }
    std::vector<double> result(device->state().begin(), device->state().end());
    result.push_back(energy);
    return result;
  };
  const auto coarse = run(1000);
  const auto half = run(2000);
  const auto fine = run(16000);
  for (std::size_t i = 0; i < fine.size(); ++i) {
    const double scale = i + 1 == fine.size() ? std::abs(fine[i]) : std::max(std::abs(fine[i]), 1e-3);
    EXPECT_NEAR(coarse[i], fine[i], 2e-3 * scale) << i;
    EXPECT_LE(std::abs(half[i] - fine[i]), 0.6 * std::abs(coarse[i] - fine[i]) + 2e-4 * scale) << i;
  }
}

TEST_P(EveryFamily, SlopesAreFiniteDifferences) {
  const auto device = lamp().device();
  const double dt = 20e-6;
  for (int i = 0; i < 3000; ++i) {
    const double v0 = cut_voltage(i * dt);
    const double v1 = cut_voltage((i + 1) * dt);
    if (i % 7 == 0) {
      const double h = 1e-5;
      const auto here = device->propose(v0, v1, dt);
      const auto up = device->propose(v0, v1 + h, dt);
      const auto down = device->propose(v0, v1 - h, dt);
      const double current_slope = (up.current_a - down.current_a) / (2.0 * h);
      const double charge_slope = (up.charge_c - down.charge_c) / (2.0 * h);
      ASSERT_NEAR(here.current_slope, current_slope, 1e-5 * std::abs(current_slope) + 1e-8) << i;
      ASSERT_NEAR(here.charge_slope, charge_slope, 1e-5 * std::abs(charge_slope) + 1e-13) << i;
    }
    device->advance(v0, v1, dt);
  }
}

TEST_P(EveryFamily, TakesEnergyOverACycle) {
  const auto device = lamp().device();
  const double dt = 20e-6;
  for (int cycle = 0; cycle < 40; ++cycle) {
    double energy = 0.0;
    for (int i = 0; i < 1000; ++i) {
      const double v0 = cut_voltage(i * dt);
      const double v1 = cut_voltage((i + 1) * dt);
      energy += 0.5 * (v0 + v1) * device->advance(v0, v1, dt).charge_c;
    }
    ASSERT_GT(energy, 0.0) << cycle;
  }
}

TEST_P(EveryFamily, StaysFiniteEverywhereInsideTheBounds) {
  std::mt19937_64 random(7);
  std::uniform_real_distribution<double> unit(0.0, 1.0);
  const bool with_optional = std::get<1>(GetParam());
  for (int lamp_number = 0; lamp_number < 150; ++lamp_number) {
    std::vector<double> values;
    std::string text;
    for (const ParameterSpec& spec : family().parameters) {
      const double u = unit(random) < 0.3 ? std::round(unit(random)) : unit(random);  // often exactly at a bound
      const double lower = to_coordinate(spec, spec.lower);
      const double upper = to_coordinate(spec, spec.upper);
      const double inside = std::clamp(from_coordinate(spec, lower + u * (upper - lower)), spec.lower, spec.upper);
      values.push_back(spec.optional && !with_optional ? spec.absent : inside);
      text += fmt::format("{}={:g} ", spec.name, values.back());
    }
    const auto device = Lamp(family(), values).device();
    const double dt = std::pow(10.0, -6.0 + 2.5 * unit(random));
    double v0 = 0.0;
    for (int i = 0; i < 60; ++i) {
      const double v1 = i % 5 == 0 ? 2000.0 * (unit(random) - 0.5) : v0 * (0.9 + 0.2 * unit(random));
      const auto trial = device->propose(v0, v1, dt);
      const auto step = device->advance(v0, v1, dt);
      ASSERT_TRUE(std::isfinite(step.current_a) && std::isfinite(step.charge_c)) << text << " step " << i;
      ASSERT_TRUE(std::isfinite(trial.current_slope) && std::isfinite(trial.charge_slope)) << text << " step " << i;
      for (std::size_t s = 0; s < device->state().size(); ++s) {
        ASSERT_GE(device->state()[s], family().states[s].lower - 1e-6) << text << family().states[s].name;
        ASSERT_TRUE(std::isfinite(device->state()[s])) << text << family().states[s].name;
      }
      v0 = v1;
    }
  }
}

TEST_P(EveryFamily, DerivedFiguresAreFinite) {
  for (const OperatingPoint at :
       {OperatingPoint{230.0, 50.0}, OperatingPoint{120.0, 60.0}, OperatingPoint{24.0, 0.0}}) {
    const auto figures = family().derived(lamp().parameters(), at);
    ASSERT_FALSE(figures.empty());
    EXPECT_EQ(figures.front().name, "rated_power_w");
    for (const DerivedFigure& figure : figures) EXPECT_TRUE(std::isfinite(figure.value)) << figure.name;
  }
}

TEST_P(EveryFamily, IsDrawnWithEachOfItsParametersOnce) {
  std::vector<std::string_view> drawn;
  ASSERT_FALSE(family().schematic.empty());
  EXPECT_NE(family().schematic.front().placement, Placement::with_previous);
  EXPECT_TRUE(std::any_of(family().schematic.begin(), family().schematic.end(), [](const SchematicPart& part) {
    return part.placement == Placement::across;
  })) << "nothing closes the circuit";
  for (const SchematicPart& part : family().schematic) {
    for (const std::string_view name : part.parameters) {
      if (!name.empty()) drawn.push_back(name);
    }
  }
  std::vector<std::string_view> all;
  for (const ParameterSpec& spec : family().parameters) all.push_back(spec.name);
  std::sort(drawn.begin(), drawn.end());
  std::sort(all.begin(), all.end());
  EXPECT_EQ(drawn, all);
}

INSTANTIATE_TEST_SUITE_P(List, EveryFamily,
                         testing::Combine(testing::Range<std::size_t>(0, lamp_families().size()), testing::Bool()),
                         [](const auto& info) {
                           const FamilyInfo& family = lamp_families()[std::get<0>(info.param)];
                           return fmt::format("{}{}{}{}", family.name, family.load_law.empty() ? "" : "_",
                                              family.load_law, std::get<1>(info.param) ? "_all" : "");
                         });

TEST(LampList, NamesTheKnownFamilies) {
  EXPECT_EQ(find_family("rectifier_capacitor", "led_string").load_law, "led_string");
  EXPECT_THROW(find_family("candle", ""), Error);
  EXPECT_THROW(Lamp(find_family("resistor", ""), {0.0}), Error);
}

}  // namespace
}  // namespace lampload::lamp_families_test
