// Families fed with DC against ngspice on the same circuit: a strip behind its cable on a pulse-width dimmer, a chain
// of LEDs on a constant-current driver. The model is driven by ngspice's terminal voltage. Goal of the design: rms
// difference under 1 % of peak, peaks within 2 %.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "core/lamp/lamp.h"
#include "tests/reference/ngspice.h"

namespace lampload::lamp_dc_ngspice_test {
namespace {

struct Case {
  std::string what, family;
  std::vector<double> parameters;
  std::string source;  ///< element lines that feed the node `in`
  std::string lamp;    ///< element lines between `lamp` and 0
  double end_s;
};
void PrintTo(const Case& one, std::ostream* out) { *out << one.what; }

/// The chains' curve of docs/models/rectifier_capacitor.md as a fine table, nothing backwards; behind an inductance.
std::string strip(double volt, double ohm, double henry) {
  const double working_a = 0.16 * volt / ohm;
  std::string table = fmt::format("-1000,0, {:.12g},0", volt * (1.0 + 0.02 * (7.0 * 0.004 + std::log(0.004) + 1.0)));
  for (double share = 0.004 * 1.03; share < 60.0; share *= 1.03) {
    const double at_v = volt + ohm * share * working_a + 0.02 * volt * (std::log(share) - (share - 1.0));
    table += fmt::format(",\n+ {:.12g},{:.12g}", at_v, share * working_a);
  }
  const std::string chain = henry > 0.0 ? "far" : "lamp";
  return (henry > 0.0 ? fmt::format("Lcable lamp far {:.9g} IC=0\nRdamp lamp far 2k\nCstray far 0 50p\n", henry)
                      : std::string()) +
         fmt::format("Bchain {0} 0 I = pwl(v({0}), {1})\n", chain, table);
}

/// One diode of ngspice's own, at its 27 degrees Celsius.
std::string diode(double saturation_a, double emission_v, double ohm) {
  return fmt::format("Dchain lamp 0 chain\n.model chain D(IS={:.9g} N={:.9g} RS={:.9g})\n", saturation_a,
                     emission_v / 0.025864186, ohm);
}

std::vector<Case> cases() {
  const auto pulses = [](double volt, double hz, double duty) {
    return fmt::format("Vin in 0 PULSE(0 {} 20u 0.5u 0.5u {:.9g} {:.9g})\n", volt, duty / hz, 1.0 / hz);
  };
  const auto freewheeling = [](double volt, double hz, double duty) {  // the dimmer's diode takes 0.7 V
    return fmt::format("Vin in 0 PULSE(-0.7 {} 20u 0.5u 0.5u {:.9g} {:.9g})\n", volt, duty / hz, 1.0 / hz);
  };
  return {
      {"strip_24v_500hz", "strip", {20.6, 1.1, 0.0}, pulses(24.0, 500.0, 0.3), strip(20.6, 1.1, 0.0), 0.006},
      {"strip_24v_1khz_cable", "strip", {20.6, 1.1, 6e-6}, pulses(24.0, 1000.0, 0.4), strip(20.6, 1.1, 6e-6), 0.004},
      {"strip_12v_1khz_long_cable",
       "strip",
       {9.1, 1.4, 25e-6},
       freewheeling(12.0, 1000.0, 0.2),
       strip(9.1, 1.4, 25e-6),
       0.004},
      {"strip_overvoltage",
       "strip",
       {20.6, 1.1, 40e-6},
       "Vin in 0 PWL(0 0 1m 30 1.5m 30 2m -5 3m 19 4m 19.5)\n",
       strip(20.6, 1.1, 40e-6),
       0.004},
      {"emitter_ripple",
       "emitter",
       {1e-18, 0.9, 4.0},
       "Idc 0 in PWL(0 0 0.2m 0.35)\nIripple 0 in SIN(0 0.05 10k 0.3m)\n",
       diode(1e-18, 0.9, 4.0),
       0.003},
      {"emitter_pulses",
       "emitter",
       {1e-24, 0.6, 2.5},
       "Idc 0 in PULSE(0 0.7 50u 2u 2u 300u 1m)\n",
       diode(1e-24, 0.6, 2.5),
       0.004},
      {"emitter_steps",
       "emitter",
       {1e-15, 0.052, 0.3},
       "Idc 0 in PWL(0 0 0.1m 0.35 1m 0.35 1.01m 0.1 2m 0.1 2.01m 0.02)\n",
       diode(1e-15, 0.052, 0.3),
       0.003},
  };
}

class DcLampAgainstNgspice : public testing::TestWithParam<Case> {};

TEST_P(DcLampAgainstNgspice, CurrentWaveform) {
  const Case& c = GetParam();
  const std::string deck = ".options method=gear maxord=2 gmin=1e-10 rshunt=1e9 reltol=1e-4\n" + c.source +
                           "Vm in lamp 0\n" + c.lamp + fmt::format(".tran 0.2u {:g} 0 0.2u uic\n", c.end_s);
  const auto spice = test::run_ngspice(deck, {"v(in)", "i(vm)"}, c.end_s);
  const auto device = Lamp(find_family(c.family, ""), c.parameters).device();
  double squares = 0.0, peak = 0.0, model_peak = 0.0;
  for (std::size_t k = 1; k < spice.time_s.size(); ++k) {
    const double dt = spice.time_s[k] - spice.time_s[k - 1];
    const auto step = device->advance(spice.columns[0][k - 1], spice.columns[0][k], dt);
    const double mean = 0.5 * (spice.columns[1][k - 1] + spice.columns[1][k]);
    squares += (step.charge_c / dt - mean) * (step.charge_c / dt - mean) * dt;
    peak = std::max(peak, std::abs(spice.columns[1][k]));
    model_peak = std::max(model_peak, std::abs(step.current_a));
  }
  const double rms_percent = 100.0 * std::sqrt(squares / c.end_s) / peak;
  const double peak_percent = 100.0 * (model_peak / peak - 1.0);
  fmt::print("{}: peak {:.4g} A, rms difference {:.3f} % of peak, peak {:+.3f} %\n", c.what, peak, rms_percent,
             peak_percent);
  EXPECT_GT(peak, 0.1);
  EXPECT_LT(rms_percent, 1.0);
  EXPECT_LT(std::abs(peak_percent), 2.0);
}

INSTANTIATE_TEST_SUITE_P(Lamps, DcLampAgainstNgspice, testing::ValuesIn(cases()),
                         [](const auto& info) { return info.param.what; });

}  // namespace
}  // namespace lampload::lamp_dc_ngspice_test
