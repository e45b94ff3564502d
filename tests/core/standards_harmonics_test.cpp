// Limits of IEC 61000-3-2 on a table of lamps that another program integrated, and on closed forms.

#include "core/standards/harmonic_limits.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <string>

#include "core/circuit/line_cycle.h"
#include "tests/reference/led_rectifiers.h"

namespace lampload::standards_harmonics_test {
namespace {

HarmonicCurrents currents_of(const test::LedRectifier& lamp) {
  HarmonicCurrents currents;
  const double fundamental_a = lamp.current_rms_a / std::sqrt(1.0 + lamp.thd * lamp.thd);
  currents.rms_a[1] = fundamental_a;
  currents.rms_a[3] = lamp.third * fundamental_a;
  currents.rms_a[5] = lamp.fifth * fundamental_a;
  currents.rms_a[7] = lamp.seventh * fundamental_a;
  currents.rms_a[9] = lamp.ninth * fundamental_a;
  currents.rms_a[11] = lamp.eleventh * fundamental_a;
  currents.power_w = lamp.input_w;
  currents.power_factor = lamp.power_factor;
  currents.start_deg = lamp.start_deg;
  currents.peak_deg = lamp.peak_deg;
  currents.stop_deg = lamp.stop_deg;
  return currents;
}

TEST(HarmonicLimits, OptionsOfClassCOnTheReferenceLamps) {
  for (const test::LedRectifier& lamp : test::led_rectifiers) {
    const HarmonicCurrents currents = currents_of(lamp);
    EXPECT_EQ(class_c_per_watt_use(currents).share <= 1.0, lamp.per_watt_holds) << lamp.microfarad_per_w;
    EXPECT_EQ(class_c_waveform_use(currents).share <= 1.0, lamp.waveform_holds) << lamp.microfarad_per_w;
    EXPECT_EQ(class_c_total_use(currents).share <= 1.0, lamp.total_holds) << lamp.microfarad_per_w;
    EXPECT_EQ(class_c_use(currents).share <= 1.0, lamp.per_watt_holds || lamp.waveform_holds || lamp.total_holds);
  }
}

// The same lamps through this program's own simulation.
TEST(HarmonicLimits, SimulatedReferenceLampsAgree) {
  for (const test::LedRectifier& lamp : test::led_rectifiers) {
    Channel channel;
    channel.supply.voltage_v = lamp.supply_v;
    channel.supply.frequency_hz = lamp.frequency_hz;
    channel.output.kind = OutputKind::relay;
    channel.output.switch_kind = SwitchKind::relay;
    const LampGroup group{
        Lamp(find_family("rectifier_capacitor", "constant_power"),
             {lamp.series_ohm, 0.0, 0.0, 2.0 * lamp.diode_v, 1e-6 * lamp.microfarad, 0.0, lamp.load_w}),
        1};
    DrivenChannel driven(path_of(channel, lamp.supply_v), std::span(&group, 1));
    Waveform waveform;
    const SteadyFigures figures = driven.steady({Drive::always_on, 180.0}, &waveform);
    const HarmonicCurrents currents = line_cycle(waveform, figures, lamp.supply_v, lamp.frequency_hz).harmonics;
    const std::string label = std::to_string(lamp.microfarad_per_w) + " uF/W, " + std::to_string(lamp.supply_v) + " V";
    EXPECT_NEAR(currents.power_w, lamp.input_w, 0.01 * lamp.input_w) << label;
    // the simulation keeps currents within 1 % of the peak, which is 3 to 4 times the rms here
    EXPECT_NEAR(currents.power_factor, lamp.power_factor, 0.015) << label;
    EXPECT_NEAR(currents.rms_a[3] / currents.rms_a[1], lamp.third, 0.01) << label;
    EXPECT_NEAR(currents.rms_a[5] / currents.rms_a[1], lamp.fifth, 0.015) << label;
    EXPECT_NEAR(currents.rms_a[11] / currents.rms_a[1], lamp.eleventh, 0.02) << label;
    EXPECT_NEAR(currents.start_deg, lamp.start_deg, 1.0) << label;
    EXPECT_NEAR(currents.stop_deg, lamp.stop_deg, 1.5) << label;
    EXPECT_EQ(class_c_waveform_use(currents).share <= 1.0, lamp.waveform_holds) << label;
    EXPECT_EQ(class_c_per_watt_use(currents).share <= 1.0, lamp.per_watt_holds) << label;
    EXPECT_EQ(class_c_total_use(currents).share <= 1.0, lamp.total_holds) << label;
  }
}

// A resistor at 90 degrees: order 15 is 0.0455 of the full current and binds class A first, at 3.30 A or 759 W at 230 V
// (closed form of phase control).
TEST(HarmonicLimits, ClassAOfAResistorAtHalfPower) {
  constexpr double pi = std::numbers::pi;
  constexpr double full_a = 3.30;
  HarmonicCurrents currents;
  for (std::size_t n = 3; n <= 39; n += 2) {
    // (2 / pi) |integral of sin(x) exp(-j n x) from 90 degrees to 180|: two terms at a right angle
    const double k = static_cast<double>(n);
    currents.rms_a[n] =
        full_a * 2.0 / pi *
        std::hypot(std::sin((k + 1.0) * pi / 4.0) / (k + 1.0), std::sin((k - 1.0) * pi / 4.0) / (k - 1.0));
  }
  const HarmonicUse use = class_a_use(currents);
  EXPECT_EQ(use.order, 15);
  EXPECT_NEAR(use.share, 1.0, 0.01);
  EXPECT_EQ(use.known, "two sources");
}

TEST(HarmonicLimits, ClassCByPower) {
  HarmonicCurrents currents;
  currents.rms_a[1] = 0.2;
  currents.rms_a[3] = 0.1;
  currents.power_factor = 0.8;
  currents.power_w = 4.9;
  EXPECT_EQ(class_c_use(currents).share, 0.0);
  EXPECT_EQ(class_c_use(currents).rule, "class C, no limit below 5 W (edition 5)");
  currents.power_w = 40.0;
  EXPECT_NEAR(class_c_use(currents).share, 50.0 / 24.0, 1e-12);  // 30 % times 0.8
  EXPECT_EQ(class_c_use(currents).order, 3);
  currents.power_factor = 1.0;
  EXPECT_NEAR(class_c_use(currents).share, 50.0 / 27.0, 1e-12);  // never above 27 %
  currents.rms_a[3] = 0.0;
  currents.rms_a[39] = 0.006;
  EXPECT_NEAR(class_c_use(currents).share, 1.0, 1e-12);  // 3 % for every odd order from 11
  currents.rms_a[40] = 1.0;
  EXPECT_NEAR(class_c_use(currents).share, 1.0, 1e-12);  // even orders above 2 are not limited in class C
}

}  // namespace
}  // namespace lampload::standards_harmonics_test
