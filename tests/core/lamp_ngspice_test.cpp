// Each family against ngspice on the same circuit equations, driven by the same terminal voltage: uncut, leading edge
// at 90 degrees, trailing edge at 90 degrees. Goal of the design: rms difference under 1 % of peak, peaks within 2 %.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <regex>
#include <string>
#include <vector>

#include "core/lamp/lamp.h"
#include "core/lamp/tungsten.h"
#include "tests/core/cut_voltage.h"
#include "tests/reference/ngspice.h"

namespace lampload::lamp_ngspice_test {
namespace {

struct Case {
  std::string family, load_law, cut;
  std::vector<double> parameters;
};
void PrintTo(const Case& one, std::ostream* out) { *out << one.family << ' ' << one.load_law << ' ' << one.cut; }

/// A table source's points of tungsten's resistivity ratio or heat ratio over v(t).
std::string table_over_temperature(bool resistivity) {
  std::string text;
  for (double t = 200.0; t <= 3700.0; t += 50.0) {
    const double value = resistivity ? tungsten_resistivity_ratio(t).value : tungsten_heat_ratio(t).value;
    text += fmt::format("{}{:g},{:.9g}", text.empty() ? "" : ", ", t, value);
  }
  return text;
}

/// The family's circuit as a netlist between nodes `in` and 0, written from the equations in docs/models.
std::string netlist(const Case& c) {
  const auto& p = c.parameters;
  if (c.family == "resistor") return fmt::format("R1 in 0 {:.12g}\n", p[0]);
  if (c.family == "filament") {
    // node `hot` is the temperature in kelvin; node `rho` and `heat` the ratios of the table
    return fmt::format(
        "Brho rho 0 V = pwl(v(hot), {})\nBheat heat 0 V = pwl(v(hot), {})\n"
        "Blamp in 0 I = v(in)/({:.12g}*v(rho))\n"
        "Chot hot 0 {:.12g} IC=300\n"
        "Bhot 0 hot I = (v(in)^2/({:.12g}*v(rho)) - {:.12g}*(max(v(hot),200)^4-8.1e9)*(max(v(hot),200)/2800)^{:.12g} "
        "- {:.12g}*(v(hot)-300))/v(heat)\n",
        table_over_temperature(true), table_over_temperature(false), p[0], p[2], p[0], p[1], p[3], p[4]);
  }
  if (c.family == "capacitive_dropper") {
    return fmt::format(
               "Rs in fused {:.12g}\nCseries fused ac {:.12g} IC=0\nRbleed fused ac {:.12g}\n"
               "D1 ac pos junction\nD2 0 pos junction\nD3 neg ac junction\nD4 neg 0 junction\n"
               ".model junction D(IS=1e-9 N=0.02)\nVdrop pos busp {:.12g}\n"
               "Cres busp neg {:.12g} IC=0\n",
               p[1], p[0], p[2], p[3], p[4]) +
           test::spice_chain("busp", "neg", p[5], p[6], 1);
  }
  if (c.family == "inductive") {
    std::string text = fmt::format("Rs in a {:.12g}\n", p[0]);
    if (c.load_law.empty()) return text + fmt::format("Ls a 0 {:.12g} IC=0\n", p[1]);
    // node `flux` is the core's flux linkage in V s; its magnetising current a table
    const double knee = p[4] > 0.0 ? 1.0 / p[4] : 1e3;
    const double knee_a = knee / p[2];
    const double far_a = knee_a + 50.0 * 100.0 / p[2];
    return text +
           fmt::format(
               "Ls a core {:.12g} IC=0\nR2 core 0 {:.12g}\nBflux 0 flux I = v(core)\nCflux flux 0 1 IC=0\n"
               "Bcore core 0 I = pwl(v(flux), {:.12g},{:.12g}, {:.12g},{:.12g}, {:.12g},{:.12g}, {:.12g},{:.12g})\n",
               p[1], p[3], -knee - 100.0, -far_a, -knee, -knee_a, knee, knee_a, knee + 100.0, far_a);
  }
  if (c.family == "linear_driver") {
    // current of the bridge over its rectified voltage, as a table
    std::string table = "-1000,0";
    double before_a = 0.0;
    for (std::size_t k = 3; k < p.size(); k += 2) {
      table += fmt::format(", {:.12g},{:.12g}, {:.12g},{:.12g}", 0.975 * p[k], before_a, 1.025 * p[k], p[k + 1]);
      before_a = p[k + 1];
    }
    table += fmt::format(", 1000,{:.12g}", before_a);
    return fmt::format("Bline in 0 I = (v(in) < 0 ? -1 : 1)*pwl(abs(v(in))-{:.12g}, {})\nRbleed in 0 {:.12g}\n", p[0],
                       table, p[2]) +
           (p[1] > 0.0 ? fmt::format("Cin in 0 {:.12g}\n", p[1]) : "");
  }
  if (c.family == "corrected_driver") {
    // node `mean` is the slow mean, and the loop's conductance follows from it
    return fmt::format(
        "Rs in u {3:.12g}\nCin u 0 {1:.12g} IC=0\n"
        "Bdraw u 0 I = min({0:.12g},{4:.12g}/max(v(mean),1))*(max(v(u)-{2:.12g},0)-max(-v(u)-{2:.12g},0))\n"
        "Bmean 0 mean I = (abs(v(u))*max(abs(v(u))-{2:.12g},0)-v(mean))/{5:.12g}\nCmean mean 0 1 IC=0\n",
        p[0], p[1], p[2], p[3], p[4], p[5]);
  }
  std::string load;
  if (c.load_law == "constant_power") {
    load =
        fmt::format("Bload busp neg I = v(busp,neg) < 50 ? {0:.12g}*v(busp,neg)/2500 : {0:.12g}/v(busp,neg)\n", p[6]);
  } else if (c.load_law == "constant_current") {
    load = fmt::format("Bload busp neg I = {:.12g}*(v(busp,neg) < 50 ? v(busp,neg)/50 : 1)\n", p[6]);
  } else {
    load = test::spice_chain("busp", "neg", p[6], p[7], 1);
  }
  std::string series = fmt::format("Rs in ac {:.12g}\n", p[0]);
  if (p[1] > 0.0) series = fmt::format("Rs in acl {:.12g}\nLs acl ac {:.12g}\nRdamp acl ac 20k\n", p[0], p[1]);
  if (p[2] > 0.0) series += fmt::format("Cin in 0 {:.12g}\n", p[2]);
  const std::size_t ntc = c.load_law == "led_string" ? 8 : 7;
  if (p.size() > ntc && p[ntc] > 0.0) {
    // the limiter between the bridge and what is ahead of it; node `hot` is its temperature over 298.15 K, in kelvin
    series = std::regex_replace(series, std::regex(" ac "), " acn ");
    series = std::regex_replace(series, std::regex(" 20k"), " 4k");  // it does not converge otherwise
    const std::string ohm = fmt::format("({:.12g}*exp({:.12g}*(1/(298.15+v(hot))-1/298.15)))", p[ntc], p[ntc + 1]);
    series += fmt::format(
        "Bntc acn ac I = v(acn,ac)/{0}\nBheat 0 hot I = v(acn,ac)^2/{0}\nChot hot 0 {1:.12g} IC=0\nRhot hot 0 "
        "{2:.12g}\n",
        ohm, p[ntc + 2] * p[ntc + 3], 1.0 / p[ntc + 2]);
  }
  if (p.size() > ntc && p[ntc + 4] > 0.0)
    series += fmt::format("Cdamp in damp {:.12g} IC=0\nRbranch damp 0 {:.12g}\n", p[ntc + 4], p[ntc + 5]);
  // near-ideal junctions (some ten millivolts), the drop as a source behind them
  return series + load +
         fmt::format(
             "D1 ac pos junction\nD2 0 pos junction\nD3 neg ac junction\nD4 neg 0 junction\n"
             ".model junction D(IS=1e-9 N=0.02)\nVdrop pos busp {:.12g}\n"
             "Cres busp mid {:.12g} IC=0\nResr mid neg {:.12g}\n",
             p[3], p[4], std::max(p[5], 1e-4));
}

double interval_mean(const test::SpiceRun& run, const std::vector<double>& integral, double from_s, double to_s) {
  const auto at = [&](double t) {
    const auto after = std::lower_bound(run.time_s.begin(), run.time_s.end(), t);
    if (after == run.time_s.begin()) return integral.front();
    if (after == run.time_s.end()) return integral.back();
    const auto k = static_cast<std::size_t>(after - run.time_s.begin());
    const double here = test::value_at(run, 0, t);
    return integral[k - 1] + 0.5 * (run.columns[0][k - 1] + here) * (t - run.time_s[k - 1]);
  };
  return (at(to_s) - at(from_s)) / (to_s - from_s);
}

class LampAgainstNgspice : public testing::TestWithParam<Case> {};

TEST_P(LampAgainstNgspice, CurrentWaveform) {
  const Case& c = GetParam();
  const double end_s = 0.04;
  const test::CutVoltage drive = test::cut_voltage(c.cut, end_s);
  const std::string deck = ".options method=gear maxord=2 gmin=1e-10 rshunt=1e9 reltol=1e-4\nVin src 0 " +
                           test::spice_pwl(drive.time_s, drive.voltage_v) + "\nVm src in 0\n" + netlist(c) +
                           fmt::format(".tran 1u {:g} 0 1u uic\n", end_s);
  const auto spice = test::run_ngspice(deck, {"i(vm)"}, end_s);
  std::vector<double> integral(spice.time_s.size(), 0.0);
  double peak = 0.0;
  for (std::size_t i = 1; i < integral.size(); ++i) {
    const auto& current = spice.columns[0];
    integral[i] = integral[i - 1] + 0.5 * (current[i] + current[i - 1]) * (spice.time_s[i] - spice.time_s[i - 1]);
    peak = std::max(peak, std::abs(current[i]));
  }

  const auto device = Lamp(find_family(c.family, c.load_law), c.parameters).device();
  double squares = 0.0, model_peak = 0.0;
  for (std::size_t i = 1; i < drive.time_s.size(); ++i) {
    const double length = drive.time_s[i] - drive.time_s[i - 1];
    const int parts = static_cast<int>(std::lround(length / 5e-6));
    for (int k = 0; k < parts; ++k) {
      const double rise = drive.voltage_v[i] - drive.voltage_v[i - 1];
      const double dt = length / parts;
      const double from = drive.time_s[i - 1] + k * dt;
      const auto step = device->advance(drive.voltage_v[i - 1] + rise * k / parts,
                                        drive.voltage_v[i - 1] + rise * (k + 1) / parts, dt);
      const double difference = step.charge_c / dt - interval_mean(spice, integral, from, from + dt);
      squares += difference * difference * dt;
      model_peak = std::max(model_peak, std::abs(step.current_a));
    }
  }
  const double rms_percent = 100.0 * std::sqrt(squares / end_s) / peak;
  const double peak_percent = 100.0 * (model_peak / peak - 1.0);
  fmt::print("{} {} {}: peak {:.4g} A, rms difference {:.3f} % of peak, peak {:+.3f} %\n", c.family, c.load_law, c.cut,
             peak, rms_percent, peak_percent);
  EXPECT_LT(rms_percent, 1.0);
  EXPECT_LT(std::abs(peak_percent), 2.0);
}

std::vector<Case> cases() {
  std::vector<Case> all;
  for (const char* cut : {"uncut", "leading", "trailing"}) {
    all.push_back({"resistor", "", cut, {529.0}});
    all.push_back({"filament", "", cut, {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0}});
    all.push_back({"rectifier_capacitor", "constant_power", cut, {20.0, 0.0, 0.0, 1.6, 5e-6, 0.0, 8.0}});
    all.push_back({"rectifier_capacitor", "constant_power", cut, {20.0, 1e-3, 2e-8, 1.6, 5e-6, 2.0, 8.0}});
    all.push_back({"rectifier_capacitor", "constant_current", cut, {20.0, 0.0, 2e-8, 1.6, 5e-6, 2.0, 0.03}});
    all.push_back({"rectifier_capacitor", "led_string", cut, {20.0, 0.0, 2e-8, 1.6, 5e-6, 2.0, 200.0, 1500.0}});
    // 0.33 uF into a 90 V string; and a hard one into a low string with a small reservoir
    all.push_back({"capacitive_dropper", "", cut, {3.3e-7, 220.0, 1e6, 1.6, 2.2e-6, 90.0, 600.0}});
    all.push_back({"capacitive_dropper", "", cut, {1e-6, 47.0, 4.7e5, 1.6, 4.7e-7, 24.0, 150.0}});
    all.push_back({"inductive", "", cut, {120.0, 0.8}});
    // saturates at 0.8 V s: uncut mains swing the flux by 1.04 V s each way, and by twice that from rest
    all.push_back({"inductive", "transformer", cut, {25.0, 0.02, 4.0, 900.0, 0.0}});
    all.push_back({"inductive", "transformer", cut, {25.0, 0.02, 4.0, 900.0, 1.25}});
    all.push_back({"linear_driver", "one_tap", cut, {1.6, 0.0, 1e6, 210.0, 0.03}});
    all.push_back({"linear_driver", "two_taps", cut, {1.6, 1e-8, 4e5, 140.0, 0.02, 260.0, 0.045}});
    all.push_back({"linear_driver", "three_taps", cut, {1.6, 0.0, 1e6, 90.0, 0.02, 180.0, 0.04, 260.0, 0.06}});
    all.push_back(
        {"linear_driver", "four_taps", cut, {1.6, 0.0, 1e6, 70.0, 0.02, 140.0, 0.04, 210.0, 0.06, 270.0, 0.05}});
    // at its limit from rest, then at its power; and one with a threshold that stays at its limit
    all.push_back({"corrected_driver", "", cut, {6e-4, 1.5e-7, 6.0, 12.0, 15.0, 0.01}});
    all.push_back({"corrected_driver", "", cut, {3e-4, 4.7e-8, 60.0, 47.0, 20.0, 0.03}});
  }
  // Limiters so small that what charges the reservoir warms them by some ten kelvin; a damper; both behind a choke.
  const std::vector<double> limited = {15.0, 0.0, 0.0, 1.6, 5e-6, 0.0, 8.0, 33.0, 3000.0, 4e-3, 2.0, 0.0, 0.0};
  const std::vector<double> damped = {20.0, 0.0, 2e-8, 1.6, 5e-6, 2.0, 200.0, 1500.0, 0.0, 0.0, 0.0, 0.0, 1e-7, 470.0};
  const std::vector<double> both = {20.0,   1e-3, 2e-8,   1.6,  5e-6, 2.0,    200.0,
                                    1500.0, 22.0, 2800.0, 6e-3, 2.0,  4.7e-8, 220.0};
  for (const char* cut : {"uncut", "leading", "trailing", "cold"}) {
    all.push_back({"rectifier_capacitor", "constant_power", cut, limited});
    all.push_back({"rectifier_capacitor", "led_string", cut, damped});
    all.push_back({"rectifier_capacitor", "led_string", cut, both});
  }
  return all;
}

INSTANTIATE_TEST_SUITE_P(Lamps, LampAgainstNgspice, testing::ValuesIn(cases()), [](const auto& info) {
  const Case& c = info.param;
  std::string kind;
  if (c.family == "rectifier_capacitor" && c.parameters[1] > 0.0) kind = "_choked";
  if (c.family == "rectifier_capacitor" && c.parameters.size() > 8) kind += "_with_parts";
  if (c.family == "capacitive_dropper") kind = c.parameters[0] < 5e-7 ? "_high_string" : "_low_string";
  if (c.load_law == "transformer" && c.parameters[4] > 0.0) kind = "_saturating";
  if (c.family == "corrected_driver") kind = c.parameters[2] < 10.0 ? "_holding_power" : "_at_limit";
  return fmt::format("{}{}{}{}_{}", c.family, c.load_law.empty() ? "" : "_", c.load_law, kind, c.cut);
});

}  // namespace
}  // namespace lampload::lamp_ngspice_test
