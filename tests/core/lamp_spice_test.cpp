// The subcircuits that are handed on (core/lamp/spice.h), run in ngspice, against the project's own waveforms: uncut,
// leading edge at 90 degrees and trailing edge at 90 degrees, all three in one run; families fed with DC alone on
// pulses or a current. Goal: rms difference under 1 % of peak. The figures of docs/spice.md are those that this test
// prints.

#include "core/lamp/spice.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "tests/core/cut_voltage.h"
#include "tests/reference/ngspice.h"

namespace lampload::lamp_spice_test {
namespace {

constexpr const char* options = ".options method=gear maxord=2 gmin=1e-10 rshunt=1e9 reltol=1e-4\n";

bool ngspice_is_there() {
  static const bool there = std::system("ngspice --version > /dev/null 2>&1") == 0;  // NOLINT: fixed words only
  return there;
}

struct Case {
  std::string what, family, load_law;
  std::vector<double> parameters;
  std::string feed;  ///< element lines that feed node `in`; empty: mains, uncut and cut
};
void PrintTo(const Case& one, std::ostream* out) { *out << one.what; }

std::vector<Case> cases() {
  return {
      {"resistor", "resistor", "", {529.0}, ""},
      {"filament", "filament", "", {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}, ""},
      {"filament_inductive", "filament", "", {66.0, 9.8e-13, 2e-3, 0.5, 0.0, 5e-3}, ""},
      {"constant_power", "rectifier_capacitor", "constant_power", {20.0, 0.0, 0.0, 1.6, 5e-6, 0.0, 8.0}, ""},
      {"constant_power_choke", "rectifier_capacitor", "constant_power", {20.0, 1e-3, 2e-8, 1.6, 5e-6, 2.0, 8.0}, ""},
      {"constant_current", "rectifier_capacitor", "constant_current", {20.0, 0.0, 2e-8, 1.6, 5e-6, 2.0, 0.03}, ""},
      {"led_string", "rectifier_capacitor", "led_string", {20.0, 0.0, 2e-8, 1.6, 5e-6, 2.0, 200.0, 1500.0}, ""},
      {"led_string_limiter_damper",
       "rectifier_capacitor",
       "led_string",
       {20.0, 1e-3, 2e-8, 1.6, 5e-6, 2.0, 200.0, 1500.0, 22.0, 2800.0, 6e-3, 2.0, 4.7e-8, 220.0},
       ""},
      {"capacitive_dropper", "capacitive_dropper", "", {3.3e-7, 220.0, 1e6, 1.6, 2.2e-6, 90.0, 600.0}, ""},
      {"inductive", "inductive", "", {120.0, 0.8}, ""},
      {"transformer", "inductive", "transformer", {25.0, 0.02, 4.0, 900.0, 0.0}, ""},
      {"transformer_saturating", "inductive", "transformer", {25.0, 0.02, 4.0, 900.0, 1.25}, ""},
      {"one_tap", "linear_driver", "one_tap", {1.6, 0.0, 1e6, 210.0, 0.03}, ""},
      {"two_taps", "linear_driver", "two_taps", {1.6, 1e-8, 4e5, 140.0, 0.02, 260.0, 0.045}, ""},
      {"three_taps", "linear_driver", "three_taps", {1.6, 0.0, 1e6, 90.0, 0.02, 180.0, 0.04, 182.0, 0.06}, ""},
      {"four_taps",
       "linear_driver",
       "four_taps",
       {1.6, 0.0, 1e6, 70.0, 0.02, 140.0, 0.04, 210.0, 0.06, 270.0, 0.05},
       ""},
      {"corrected_driver", "corrected_driver", "", {6e-4, 1.5e-7, 6.0, 12.0, 15.0, 0.01}, ""},
      {"strip", "strip", "", {20.6, 1.1, 0.0}, "Vin in 0 PULSE(0 24 20u 0.5u 0.5u 0.6m 2m)\n"},
      {"strip_cable", "strip", "", {20.6, 1.1, 6e-6}, "Vin in 0 PULSE(0 24 20u 0.5u 0.5u 0.4m 1m)\n"},
      {"emitter", "emitter", "", {1e-18, 0.9, 4.0}, "Idc 0 in PWL(0 0 0.2m 0.35)\nIac 0 in SIN(0 0.05 10k 0.3m)\n"},
      {"emitter_steep", "emitter", "", {1e-40, 0.5, 2.5}, "Idc 0 in PULSE(0 0.7 50u 2u 2u 300u 1m)\n"},
  };
}

struct Difference {
  double rms_percent, peak_a;
};

/// Driven by ngspice's own terminal voltage, step by step.
Difference difference(const Lamp& lamp, const std::vector<double>& time_s, const std::vector<double>& voltage_v,
                      const std::vector<double>& current_a) {
  const auto device = lamp.device();
  double squares = 0.0;
  double peak = 0.0;
  for (std::size_t k = 1; k < time_s.size(); ++k) {
    const double dt = time_s[k] - time_s[k - 1];
    const double mean = device->advance(voltage_v[k - 1], voltage_v[k], dt).charge_c / dt;
    const double theirs = 0.5 * (current_a[k - 1] + current_a[k]);
    squares += (mean - theirs) * (mean - theirs) * dt;
    peak = std::max(peak, std::abs(current_a[k]));
  }
  return {100.0 * std::sqrt(squares / time_s.back()) / peak, peak};
}

class HandedOn : public testing::TestWithParam<Case> {};

TEST_P(HandedOn, IsWhatTheProjectComputes) {
  ASSERT_TRUE(ngspice_is_there()) << "ngspice is missing: .ci/install test";
  const Case& c = GetParam();
  const Lamp lamp(find_family(c.family, c.load_law), c.parameters);
  std::string deck = options + spice::subcircuit(lamp, "lamp", spice::fixed_parameters(lamp));
  std::vector<std::string> wanted;
  std::vector<std::string> cuts;
  const double end_s = c.feed.empty() ? 0.04 : 0.004;
  if (c.feed.empty()) {
    for (const std::string cut : {"uncut", "leading", "trailing"}) {
      const test::CutVoltage drive = test::cut_voltage(cut, end_s);
      deck += fmt::format("Vsource{0} {0} 0 {1}\nVmeter{0} {0} {0}x 0\nX{0} {0}x 0 lamp\n", cut,
                          test::spice_pwl(drive.time_s, drive.voltage_v));
      wanted.insert(wanted.end(), {"v(" + cut + ")", "i(vmeter" + cut + ")"});
      cuts.push_back(cut);
    }
    deck += fmt::format(".tran 2u {:g} 0 2u uic\n", end_s);
  } else {
    deck += c.feed + "Vmeter in inx 0\nX1 inx 0 lamp\n" + fmt::format(".tran 0.2u {:g} 0 0.2u uic\n", end_s);
    wanted = {"v(in)", "i(vmeter)"};
    cuts = {"dc"};
  }
  const test::SpiceRun run = test::run_ngspice(deck, wanted, end_s);
  for (std::size_t k = 0; k < cuts.size(); ++k) {
    const Difference found = difference(lamp, run.time_s, run.columns[2 * k], run.columns[2 * k + 1]);
    fmt::print("| {} | {} | {:.4g} | {:.3f} |\n", c.what, cuts[k], found.peak_a, found.rms_percent);
    EXPECT_GT(found.peak_a, 1e-3) << cuts[k];
    EXPECT_LT(found.rms_percent, 1.0) << cuts[k];
  }
}

INSTANTIATE_TEST_SUITE_P(Lamps, HandedOn, testing::ValuesIn(cases()), [](const auto& info) { return info.param.what; });

TEST(SpiceCircuits, TheTableAboveHasEveryFamily) {
  std::set<std::pair<std::string, std::string>> tried;
  for (const Case& c : cases()) tried.emplace(c.family, c.load_law);
  for (const FamilyInfo& family : lamp_families()) {
    EXPECT_TRUE(tried.contains({std::string(family.name), std::string(family.load_law)}))
        << family.name << ' ' << family.load_law;
  }
}

TEST(SpiceCircuits, EveryParameterMayBeSetByWhoeverUsesIt) {
  ASSERT_TRUE(ngspice_is_there()) << "ngspice is missing: .ci/install test";
  const Lamp lamp(find_family("resistor", ""), {529.0});
  const std::string deck = spice::subcircuit(lamp, "lamp", spice::fixed_parameters(lamp)) +
                           "Vin in 0 100\nVmeter in x 0\nX1 x 0 lamp resistance_ohm=50\n.tran 1m 4m\n";
  EXPECT_NEAR(test::run_ngspice(deck, {"i(vmeter)"}, 4e-3).columns[0].back(), 2.0, 1e-6);
}

}  // namespace
}  // namespace lampload::lamp_spice_test
