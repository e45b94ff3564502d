// Tungsten's table, and what a filament lamp is known to do.

#include "core/lamp/filament.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <numbers>
#include <string>
#include <vector>

namespace lampload::lamp_filament_test {
namespace {

using std::numbers::pi;

// About 60 W at 230 V.
const std::vector<double> sixty_watt = {61.0, 1.0e-12, 2e-3, 0.5, 0.0, 0.0};

std::map<std::string, double> figures(const std::vector<double>& lamp, const OperatingPoint& at) {
  std::map<std::string, double> out;
  for (const DerivedFigure& figure : Filament::derived(lamp, at)) out[figure.name] = figure.value;
  return out;
}

TEST(Tungsten, ResistivityIsTheTable) {
  // H. A. Jones, Phys. Rev. 28, 202 (1926), an independent table, micro-ohm cm; 5.65 at 300 K.
  const std::vector<std::pair<double, double>> jones = {
      {273.0, 5.00},   {293.0, 5.49},   {400.0, 8.05},   {600.0, 13.23},  {1000.0, 24.90}, {1600.0, 43.50},
      {2000.0, 56.67}, {2400.0, 70.38}, {2800.0, 84.69}, {3200.0, 99.55}, {3600.0, 115.0}, {3655.0, 117.1}};
  for (const auto& [t, micro_ohm_cm] : jones) {
    EXPECT_NEAR(tungsten_resistivity_ratio(t).value, micro_ohm_cm / 5.65, 3e-3 * micro_ohm_cm / 5.65) << t;
  }
}

TEST(Tungsten, HeatIsTheShomateFormBetweenTheKnots) {
  // NIST-JANAF (Chase 1998), J/(mol K), against 24.320 at 300 K
  for (double t = 310.0; t < 1890.0; t += 70.0) {
    const double x = t / 1000.0;
    const double heat = 23.95930 + 2.639680 * x + 1.257750 * x * x - 0.254642 * x * x * x - 0.048407 / (x * x);
    EXPECT_NEAR(tungsten_heat_ratio(t).value, heat / 24.320, 2e-3) << t;
  }
  EXPECT_NEAR(tungsten_heat_ratio(2800.0).value, 37.586 / 24.320, 1e-3);
  EXPECT_NEAR(tungsten_heat_ratio(3600.0).value, 61.646 / 24.320, 1e-3);
}

TEST(Tungsten, SlopesAreContinuous) {
  for (double t = 200.0; t < 3750.0; t += 25.0) {
    for (const auto& f : {tungsten_resistivity_ratio<double>, tungsten_heat_ratio<double>}) {
      EXPECT_NEAR((f(t + 0.01).value - f(t - 0.01).value) / 0.02, f(t).slope, 1e-6) << t;
      EXPECT_NEAR(f(t + 1e-6).slope, f(t - 1e-6).slope, 1e-9) << t;
      EXPECT_GT(f(t).value, 0.0) << t;
    }
  }
}

TEST(Filament, VoltageExponents) {
  // Standard Handbook for Electrical Engineers, 11th ed., p. 22-8, as cited for lamp rerating: current 0.55, power 1.6.
  // The exponents hold for 95 to 105 % of the rated voltage.
  const auto low = figures(sixty_watt, {0.95 * 230.0, 50.0});
  const auto high = figures(sixty_watt, {1.05 * 230.0, 50.0});
  const double power = std::log(high.at("rated_power_w") / low.at("rated_power_w")) / std::log(1.05 / 0.95);
  fmt::print("filament: power over voltage exponent {:.4f}, current {:.4f}\n", power, power - 1.0);
  EXPECT_NEAR(power, 1.6, 0.03);
  EXPECT_NEAR(power - 1.0, 0.55, 0.03);
}

TEST(Filament, OperatingPoint) {
  const auto at = figures(sixty_watt, {230.0, 50.0});
  EXPECT_NEAR(at.at("rated_power_w"), 60.0, 3.0);
  EXPECT_NEAR(at.at("hot_resistance_ohm"), 230.0 * 230.0 / at.at("rated_power_w"), 1e-6);
  // cold resistance over hot: about 1/15, common practice
  EXPECT_NEAR(at.at("cold_hot_ratio"), 1.0 / 15.0, 0.01);
  EXPECT_NEAR(at.at("cold_hot_ratio") * at.at("hot_resistance_ohm"), 61.0, 1e-9);
}

TEST(Filament, WarmsUpToTheOperatingPointAndAtTheStatedRate) {
  const auto at = figures(sixty_watt, {230.0, 0.0});
  const Filament::Model<double> model{std::span<const double>(sixty_watt)};
  std::array<double, 2> state = {300.0, 0.0};
  for (int i = 0; i < 50000; ++i) model.advance(state, 230.0, 230.0, 100e-6);
  EXPECT_NEAR(state[0], at.at("hot_temperature_k"), 0.01);
  // a small disturbance decays by the factor e in one time constant
  const double settled = state[0];
  state[0] += 1.0;
  for (int i = 0; i < 1000; ++i) model.advance(state, 230.0, 230.0, at.at("thermal_time_constant_s") / 1000.0);
  EXPECT_NEAR(state[0] - settled, std::exp(-1.0), 2e-3);
}

TEST(Filament, FirstPeakIsTenToFifteenTimesTheLast) {
  // Three sources agree on 10 to 15 times for a cold start at the crest (common practice figures).
  const Filament::Model<double> model{std::span<const double>(sixty_watt)};
  std::array<double, 2> state = {300.0, 0.0};
  double first = 0.0, last = 0.0;
  for (int i = 0; i < 100000; ++i) {
    const auto v = [](int k) { return 325.27 * std::cos(100.0 * pi * k * 20e-6); };
    const double current = std::abs(model.advance(state, v(i), v(i + 1), 20e-6).current_a);
    if (i < 500) first = std::max(first, current);
    if (i >= 99000) last = std::max(last, current);
  }
  EXPECT_GT(first / last, 10.0);
  EXPECT_LT(first / last, 15.5);
}

TEST(Filament, SmallInductanceDoesNotRing) {
  auto lamp = sixty_watt;
  lamp[5] = 1e-6;  // 16 ns with the cold wire
  const Filament::Model<double> with{std::span<const double>(lamp)};
  const Filament::Model<double> without{std::span<const double>(sixty_watt)};
  std::array<double, 2> a = {300.0, 0.0};
  std::array<double, 2> b = {300.0, 0.0};
  for (int i = 0; i < 3000; ++i) {
    const auto v = [](int k) { return k % 500 < 250 ? 0.0 : 325.27 * std::sin(100.0 * pi * k * 20e-6); };
    const double x = with.advance(a, v(i), v(i + 1), 20e-6).current_a;
    const double y = without.advance(b, v(i), v(i + 1), 20e-6).current_a;
    ASSERT_NEAR(x, y, 2e-3 * std::abs(y) + 5e-3) << i;
  }
}

TEST(Filament, StartsMeetWhatIsKnown) {
  StartHints hints;
  hints.frequency_hz = 50.0;
  hints.voltage_rms_v = 230.0;
  hints.current_rms_a = 0.26;
  hints.active_power_w = 59.8;
  hints.cold_resistance_ohm = 62.0;
  for (const auto& start : Filament::starts(hints)) {
    ASSERT_EQ(start.size(), Filament::parameters.size());
    EXPECT_NEAR(start[0], 62.0, 1e-9);
    EXPECT_NEAR(figures(start, {230.0, 50.0}).at("rated_power_w"), 59.8, 0.6);
  }
}

}  // namespace
}  // namespace lampload::lamp_filament_test
