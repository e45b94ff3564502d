// The voltage probed ahead of a dimmer that feeds a lamp with a reservoir: only the current tells of the cut.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "core/waveform/figures.h"

namespace lampload::waveform_supply_side_test {
namespace {

/// Reservoir behind a bridge and a resistor, loaded by a string of LEDs, in steps of 0.2 us (the circuit's own
/// equations); the dimmer conducts from one phase of each half cycle to another.
struct Reservoir {
  double resistance_ohm, capacitance_f, string_v, string_ohm;

  [[nodiscard]] Capture behind_a_dimmer(double from_deg, double to_deg, double noise_a) const {
    constexpr double step_s = 0.2e-6;
    constexpr int steps = 50;
    std::mt19937_64 random(11);
    Capture capture;
    capture.file = "synthetic";
    capture.sample_interval_s = steps * step_s;
    double bus_v = string_v;
    double sum_a = 0.0;
    for (int k = 0; k < 20000 * steps; ++k) {
      const double phase_deg = std::fmod(360.0 * 50.0 * k * step_s, 180.0);
      const double supply_v = 325.0 * std::sin(2.0 * std::numbers::pi * 50.0 * k * step_s);
      const bool on = phase_deg >= from_deg && phase_deg < to_deg;
      const double charging_a = on ? std::max(0.0, (std::abs(supply_v) - 1.6 - bus_v) / resistance_ohm) : 0.0;
      const double drawn_a = std::max(0.0, (bus_v - string_v) / string_ohm);
      bus_v += step_s * (charging_a - drawn_a) / capacitance_f;
      sum_a += std::copysign(charging_a, supply_v);
      if (k % steps != steps / 2) continue;
      const double noise = (static_cast<double>(random() >> 11U) * 0x1p-53 - 0.5) * noise_a;
      capture.voltage_v.push_back(supply_v);
      capture.current_a.push_back(sum_a / steps + noise);
      sum_a = 0.0;
    }
    return capture;
  }
};

constexpr Reservoir candle{68.0, 2.2e-6, 247.0, 2450.0};
constexpr Reservoir stiff{8.0, 22e-6, 270.0, 300.0};

TEST(AheadOfADimmer, ACutShowsInTheCurrentOfAReservoir) {
  for (const Reservoir& lamp : {candle, stiff}) {
    for (const double conduction_deg : {60.0, 80.0, 90.0, 92.0, 100.0, 110.0}) {
      const Figures figures = measure(lamp.behind_a_dimmer(180.0 - conduction_deg, 180.0, 2e-3));
      SCOPED_TRACE(std::to_string(conduction_deg) + " deg, " + std::to_string(lamp.resistance_ohm) + " ohm");
      EXPECT_EQ(figures.cut.edge, Edge::leading);
      EXPECT_TRUE(figures.cut.supply_side_voltage);
      EXPECT_NEAR(figures.cut.conduction_angle_deg, conduction_deg, 1.5);
    }
    for (const double conduction_deg : {65.0, 72.0, 80.0}) {
      const Figures figures = measure(lamp.behind_a_dimmer(0.0, conduction_deg, 2e-3));
      SCOPED_TRACE(std::to_string(conduction_deg) + " deg, " + std::to_string(lamp.resistance_ohm) + " ohm");
      EXPECT_EQ(figures.cut.edge, Edge::trailing);
      EXPECT_TRUE(figures.cut.supply_side_voltage);
      EXPECT_NEAR(figures.cut.conduction_angle_deg, conduction_deg, 1.5);
    }
  }
}

TEST(AheadOfADimmer, AnUncutLampHasNone) {
  for (const double resistance_ohm : {2.0, 10.0, 40.0, 150.0}) {
    for (const double capacitance_f : {1e-6, 4.7e-6, 22e-6, 150e-6}) {
      const Reservoir lamp{resistance_ohm, capacitance_f, 240.0, 2000.0};
      SCOPED_TRACE(std::to_string(resistance_ohm) + " ohm, " + std::to_string(capacitance_f) + " F");
      EXPECT_EQ(measure(lamp.behind_a_dimmer(0.0, 180.0, 2e-3)).cut.edge, Edge::none);
      EXPECT_EQ(measure(lamp.behind_a_dimmer(0.0, 180.0, 0.0)).cut.edge, Edge::none);
    }
  }
}

}  // namespace
}  // namespace lampload::waveform_supply_side_test
