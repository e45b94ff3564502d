// Dimming curves against closed forms, and what follows from them.

#include "core/advice/dimming.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/error.h"
#include "tests/reference/phase_control.h"

namespace lampload::advice_dimming_test {
namespace {

constexpr double pi = std::numbers::pi;

LampGroup lamps(std::string_view family, std::string_view load_law, std::vector<double> parameters, int count = 1) {
  return {Lamp(find_family(family, load_law), std::move(parameters)), count};
}

LampGroup resistor(int count = 1) { return lamps("resistor", "", {529.0}, count); }
LampGroup led_string(int count = 1) {
  return lamps("rectifier_capacitor", "led_string", {15.0, 0.0, 0.0, 1.6, 4.7e-6, 1.0, 200.0, 1500.0}, count);
}
LampGroup converter() {
  return lamps("rectifier_capacitor", "constant_power", {15.0, 0.0, 0.0, 1.6, 4.7e-6, 0.0, 9.0});
}
LampGroup filament() { return lamps("filament", "", {61.0, 1.0e-12, 2e-3, 0.5, 0.0, 0.0}); }

Channel dimmer() {
  Channel channel;
  channel.name = "clubroom dimmer";
  channel.output.on_resistance_ohm = 1e-3;
  channel.output.edges = {Edge::leading, Edge::trailing};
  return channel;
}

Channel strip_dimmer() {
  Channel channel;
  channel.name = "boat rack dimmer";
  channel.output.kind = OutputKind::dc_pwm;
  channel.output.switch_kind = SwitchKind::mosfet;
  channel.output.supply_voltage_v = 24.0;
  channel.output.pwm_hz = 1000.0;
  return channel;
}

DimmingCurve curve_of(const Channel& channel, Mode mode, const LampGroup& group, const DimmingOptions& options = {}) {
  return dimming_curve(channel, mode, std::span(&group, 1), options);
}

const DimmingPoint& at(const std::vector<DimmingPoint>& points, double setting) {
  return *std::min_element(points.begin(), points.end(), [&](const DimmingPoint& a, const DimmingPoint& b) {
    return std::abs(a.setting - setting) < std::abs(b.setting - setting);
  });
}

/// Power over full at a conduction angle, textbook: 1 - a/pi + sin(2a)/(2 pi) for the firing angle a.
double phase_cut_power(double conduction_deg) {
  const double a = pi - conduction_deg * pi / 180.0;
  return 1.0 - a / pi + std::sin(2.0 * a) / (2.0 * pi);
}

TEST(Dimming, ResistorIsTheClosedForm) {
  const double full_w = 230.0 * 230.0 / 529.0;
  for (const Mode mode : {Mode::leading_edge, Mode::trailing_edge}) {
    const DimmingCurve curve = curve_of(dimmer(), mode, resistor(3));
    EXPECT_EQ(curve.lamps, 3);
    for (const std::vector<DimmingPoint>& sweep : {curve.rising, curve.falling}) {
      for (std::size_t i = 0; i < sweep.size(); ++i) {
        const double expected = phase_cut_power(sweep[i].setting);
        EXPECT_NEAR(sweep[i].power_w, 3.0 * full_w * expected, 3e-4 * 3.0 * full_w) << sweep[i].setting;
        EXPECT_NEAR(sweep[i].rms_a, 3.0 * 230.0 / 529.0 * std::sqrt(expected), 2e-3) << sweep[i].setting;
        EXPECT_TRUE(sweep[i].steady);
        EXPECT_FALSE(sweep[i].light);
        if (i > 0) {
          EXPECT_LE(sweep[i].setting - sweep[i - 1].setting, 5.0 + 1e-9);
        }
      }
    }
    for (const reference::PhaseCut& row : reference::kPhaseCut) {
      EXPECT_NEAR(at(curve.rising, 180.0 - row.firing_deg).power_w, 3.0 * full_w * row.power, 1e-3 * full_w);
    }

    const DimmingRange range = range_of(curve);
    EXPECT_TRUE(range.runs);
    EXPECT_TRUE(range.monotonic());
    EXPECT_TRUE(range.steady);
    EXPECT_TRUE(range.jumps.empty());
    EXPECT_EQ(range.hysteresis(), 0.0);
    EXPECT_EQ(range.lowest, 10.0);  // where the channel does not say it
    EXPECT_EQ(range.highest, 180.0);
    // 0.5 % of full power is reached where 2 c^3 / (3 pi) = 0.005 about: 16.4 degrees, and lacks as much at the top
    EXPECT_NEAR(range.starts_at, 16.5, 0.8);
    EXPECT_EQ(range.min_setting, range.starts_at);
    EXPECT_NEAR(range.least_share, 0.005, 0.0015);
    EXPECT_NEAR(range.full_at, 165.0, 2.6);  // 163.6 by the closed form, on a grid of 5
    EXPECT_NEAR(range.full_power_w, 3.0 * full_w, 0.005 * 3.0 * full_w);
  }
}

TEST(Dimming, AnglesAreTheChannels) {
  Channel channel = dimmer();
  channel.output.min_conduction_deg = 40.0;
  channel.output.max_conduction_deg = 130.0;
  const DimmingRange range = range_of(curve_of(channel, Mode::leading_edge, resistor()));
  EXPECT_EQ(range.lowest, 40.0);
  EXPECT_EQ(range.min_setting, 40.0);
  EXPECT_EQ(range.highest, 130.0);
  EXPECT_EQ(range.max_setting, 130.0);
  EXPECT_NEAR(range.least_share, phase_cut_power(40.0) / phase_cut_power(130.0), 1e-3);
  EXPECT_EQ(range.dead_travel, 0.0);
}

// A reservoir is charged up to the crest. A trailing cut behind it changes nothing; firing ahead of it changes nothing.
TEST(Dimming, ReservoirHasDeadTravelBeyondTheCrest) {
  for (const Mode mode : {Mode::leading_edge, Mode::trailing_edge}) {
    const DimmingRange range = range_of(curve_of(dimmer(), mode, led_string()));
    EXPECT_TRUE(range.runs);
    EXPECT_TRUE(range.steady);
    EXPECT_GT(range.full_at, 85.0) << mode_name(mode);
    EXPECT_LT(range.full_at, 160.0) << mode_name(mode);
    EXPECT_GT(range.dead_travel, 20.0) << mode_name(mode);
    EXPECT_NEAR(range.hysteresis(), 0.0, 1.0);
    fmt::print("LED string, {}: {:.1f} to {:.1f} degrees, from {:.3f} of full power, dead {:.1f}\n", mode_name(mode),
               range.min_setting, range.max_setting, range.least_share, range.dead_travel);
  }
}

// By the energy in the reservoir: a converter runs through where what the reservoir holds at a trailing cut, down to
// the lock-out, carries its power over the gap until the mains is back at the lock-out. C (v^2 - 50^2) / 2 = P gap.
TEST(Dimming, ConverterIsFullWhereItsReservoirLasts) {
  constexpr double reservoir_f = 4.7e-6, power_w = 9.0, lock_out_v = 50.0, peak_v = 325.27, bridge_v = 1.6;
  double low = 10.0, high = 90.0;
  for (int i = 0; i < 60; ++i) {
    const double deg = 0.5 * (low + high);
    const double charged_v = peak_v * std::sin(deg * pi / 180.0) - bridge_v;
    const double back_s = 10e-3 * std::asin((lock_out_v + bridge_v) / peak_v) / pi;
    const double gap_s = 10e-3 * (1.0 - deg / 180.0) + back_s;
    const double held_j = 0.5 * reservoir_f * (charged_v * charged_v - lock_out_v * lock_out_v);
    (held_j < power_w * gap_s ? low : high) = deg;
  }
  const DimmingCurve curve = curve_of(dimmer(), Mode::trailing_edge, converter());
  const DimmingRange range = range_of(curve);
  ASSERT_TRUE(range.runs);
  EXPECT_TRUE(range.by_light);
  fmt::print("converter: {:.1f} to {:.1f} degrees (by energy {:.1f}), dead {:.1f}\n", range.min_setting, range.full_at,
             low, range.dead_travel);
  EXPECT_GT(range.full_at, low - 1.0);
  EXPECT_LT(range.full_at, low + 5.0);  // the grid's step
  EXPECT_NEAR(range.dead_travel, 180.0 - range.full_at, 1.0);
  EXPECT_NEAR(curve.rising.back().power_w, power_w, 0.2);
  EXPECT_TRUE(range.monotonic());
}

// Resistors take their part: power alone would call this lamp full at 29 degrees, where it gives less than half of its
// light.
TEST(Dimming, LevelIsTheLightWhereItIsKnown) {
  const DimmingCurve curve = curve_of(dimmer(), Mode::leading_edge, converter());
  EXPECT_GT(at(curve.rising, 40.0).power_w, 1.5 * curve.rising.back().power_w);
  EXPECT_GT(range_of(curve).full_at, 40.0);
  const DimmingRange by_power = range_of(curve_of(dimmer(), Mode::leading_edge, converter(), {.light = false}));
  EXPECT_FALSE(by_power.by_light);
  EXPECT_LT(by_power.full_at, 32.0);
}

// A string stands higher than 46 % of the crest: below that nothing flows, however long the conduction. The angle at
// which the sine reaches the foot of the string is where a trailing edge brings it on.
TEST(Dimming, StringComesOnAtItsFoot) {
  const DimmingRange range = range_of(curve_of(dimmer(), Mode::trailing_edge, led_string()));
  const double foot_v = 200.0 * (1.0 + 0.02 * (7.0 * 0.004 + std::log(0.004) + 1.0)) + 1.6;
  EXPECT_NEAR(range.starts_at, std::asin(foot_v / 325.27) * 180.0 / pi, 3.0);
}

// Half the voltage squared is far less than half the light. With the exponents of power (1.6) and flux (3.4) over
// voltage, at 90 degrees (V / sqrt 2): power 0.574, light 0.31.
TEST(Dimming, FilamentLightFallsFasterThanItsPower) {
  const DimmingCurve curve = curve_of(dimmer(), Mode::leading_edge, filament(), {.light = true});
  EXPECT_NE(curve.light_law.find("Planck"), std::string::npos);
  const DimmingPoint& half = at(curve.rising, 90.0);
  ASSERT_TRUE(half.light);
  const double power = half.power_w / curve.rising.back().power_w;
  fmt::print("filament at 90 degrees: power {:.3f}, light {:.3f}\n", power, *half.light);
  EXPECT_NEAR(power, 0.574, 0.03);
  EXPECT_NEAR(*half.light, 0.31, 0.04);
  EXPECT_EQ(*curve.rising.back().light, 1.0);
  const DimmingRange range = range_of(curve);
  EXPECT_TRUE(range.monotonic());
  EXPECT_TRUE(range.jumps.empty());
  EXPECT_NEAR(range.hysteresis(), 0.0, 1.0);
  EXPECT_GT(range.least_power_share, 3.0 * range.least_share);
}

TEST(Dimming, StripFollowsTheDuty) {
  const LampGroup strip = lamps("strip", "", {20.6, 1.1, 0.0}, 2);
  const DimmingCurve curve = curve_of(strip_dimmer(), Mode::dc_pwm, strip, {.light = true});
  // what two take behind the 1 mOhm that every switch has at least
  double on_a = 0.0;
  for (int i = 0; i < 20; ++i)
    on_a = 2.0 * find_family("strip", "").dc_current_a(strip.lamp.parameters(), 24.0 - 1e-3 * on_a);
  const double on_w = (24.0 - 1e-3 * on_a) * on_a;
  for (const DimmingPoint& point : curve.rising) {
    // a pulse is short of the 20 ns in which it rises
    EXPECT_NEAR(point.power_w, (point.setting - 20e-6) * on_w, 1e-4 * point.setting * on_w + 5e-6 * on_w);
    EXPECT_NEAR(point.rms_a, std::sqrt(point.setting) * on_a, 2e-4 * on_a);
    ASSERT_TRUE(point.light);
    EXPECT_NEAR(*point.light, point.setting, 2e-3 * point.setting + 1e-4);
  }
  const DimmingRange range = range_of(curve);
  EXPECT_EQ(range.min_setting, 1e-3);
  EXPECT_EQ(range.max_setting, 1.0);
  EXPECT_NEAR(range.least_share, 1e-3, 1e-4);
  EXPECT_TRUE(range.monotonic());
}

// A filament on pulses settles at the temperature of the same rms voltage: the power of a DC voltage V sqrt(duty).
TEST(Dimming, FilamentOnPulsesTakesThePowerOfItsRmsVoltage) {
  const LampGroup lamp = lamps("filament", "", {0.5, 5.0e-13, 1e-3, 0.5, 0.0, 0.0});
  const FamilyInfo& family = find_family("filament", "");
  const DimmingCurve curve = curve_of(strip_dimmer(), Mode::dc_pwm, lamp);
  for (const double duty : {0.1, 0.3, 0.5, 0.9}) {
    const double rms_v = 24.0 * std::sqrt(duty);
    const double expected_w = rms_v * family.dc_current_a(lamp.lamp.parameters(), rms_v);
    EXPECT_NEAR(at(curve.rising, duty).power_w, expected_w, 5e-3 * expected_w) << duty;
  }
}

TEST(Dimming, CurrentPulsesShareOutTheDriversPower) {
  Channel channel;
  channel.output.kind = OutputKind::dc_constant_current;
  channel.output.current_a = 0.35;
  const LampGroup chain = lamps("emitter", "", {1e-18, 0.9, 4.0}, 2);
  const DimmingCurve curve = curve_of(channel, Mode::dc_constant_current, chain, {.light = true});
  // Shockley: v = R i + n kT/q ln(1 + i / Is)
  const double on_v = 4.0 * 0.35 + 0.9 * std::log1p(0.35 / 1e-18);
  for (const DimmingPoint& point : curve.rising) {
    EXPECT_NEAR(point.power_w, 2.0 * 0.35 * on_v * point.setting, 1e-5 * on_v);
    EXPECT_NEAR(point.light.value_or(0.0), point.setting, 2e-5);  // an edge takes 20 ns
  }
}

TEST(Dimming, RangeForAllIsTheLeastFavourable) {
  const std::array<DimmingCurve, 2> both = {curve_of(dimmer(), Mode::trailing_edge, led_string()),
                                            curve_of(dimmer(), Mode::trailing_edge, led_string(), {.supply_v = 207.0})};
  const DimmingRange nominal = range_of(both[0]);
  const DimmingRange low = range_of(both[1]);
  const DimmingRange all = range_for_all(both);
  EXPECT_GT(low.starts_at, nominal.starts_at);  // less voltage starts later
  EXPECT_EQ(all.min_setting, low.min_setting);
  EXPECT_EQ(all.max_setting, std::max(low.max_setting, nominal.max_setting));
  EXPECT_NEAR(all.full_power_w, nominal.full_power_w, 0.005 * nominal.full_power_w);
  // what the nominal supply gives where lamps come on at the low one
  EXPECT_GT(all.least_share, nominal.least_share);
  EXPECT_LT(all.least_share, 0.15);
}

TEST(Dimming, RefusalsSayWhatWouldDo) {
  const auto refusal = [](const Channel& channel, Mode mode, const LampGroup& group) -> std::string {
    try {
      (void)curve_of(channel, mode, group);
    } catch (const Error& error) {
      EXPECT_EQ(error.code(), ErrorCode::input_refused);
      return error.what();
    }
    return "";
  };
  EXPECT_EQ(refusal(dimmer(), Mode::on_off, resistor()),
            "mode on_off does not dim. Ask for leading_edge, trailing_edge, dc_pwm or dc_constant_current, as the "
            "channel has it");
  EXPECT_EQ(refusal(strip_dimmer(), Mode::dc_pwm, led_string()),
            "a lamp of family rectifier_capacitor cannot be fed by dc_pwm. Ask for a channel that feeds such lamps");
  Channel triac = dimmer();
  triac.output.switch_kind = SwitchKind::triac;
  EXPECT_EQ(refusal(triac, Mode::trailing_edge, resistor()),
            "a triac cannot cut a trailing edge. Ask for leading_edge");
  Channel silent = strip_dimmer();
  silent.name = "boat rack dimmer";
  silent.output.supply_voltage_v.reset();
  const std::string text = refusal(silent, Mode::dc_pwm, lamps("strip", "", {20.6, 1.1, 0.0}));
  EXPECT_NE(text.find("channel 'boat rack dimmer' does not say output.supply_voltage_v"), std::string::npos) << text;
}

}  // namespace
}  // namespace lampload::advice_dimming_test
