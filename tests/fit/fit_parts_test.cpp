// Whole fits of lamps with an inrush limiter or a damper, and of one with neither: simulated by ngspice with what the
// model has not (exponential diodes, discharge resistor), seen through a simulated instrument.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <string>
#include <vector>

#include "fit/fit.h"
#include "tests/fit/estimate_checks.h"
#include "tests/fit/simulated_capture.h"

namespace lampload::fit_parts_test {
namespace {

using test::estimate;
using test::Taken;

constexpr double fuse_ohm = 6.8;
constexpr double reservoir_f = 6.8e-6;
constexpr double power_w = 9.0;
constexpr double cold_ohm = 22.0;
constexpr double b_k = 2900.0;
constexpr double dissipation_w_per_k = 5e-3;
constexpr double time_constant_s = 25.0;

/// A converter behind a bridge; `ahead` between the nodes `fused` and `ac`, `across` at the terminals.
std::string netlist(const std::string& ahead, const std::string& across) {
  return across +
         fmt::format(
             "Rfuse lamp fused {:.9g}\n{}D1 ac plus bridge\nD2 0 plus bridge\nD3 minus ac bridge\nD4 minus 0 bridge\n"
             ".model bridge D(IS=7n N=1.8 RS=0.04 CJO=10p)\nResr plus tank 0.5\nCreservoir tank minus {:.9g} IC=0\n"
             "Rdischarge plus minus 1meg\n"
             "Bload plus minus I = {:.9g}*v(plus,minus)/max(v(plus,minus)*v(plus,minus),6400)\n",
             fuse_ohm, ahead, reservoir_f, power_w);
}

/// Node `hot` is the limiter's temperature above 298.15 K.
std::string limiter(double start_k) {
  const std::string ohm = fmt::format("({:.9g}*exp({:.9g}*(1/(298.15+v(hot))-1/298.15)))", cold_ohm, b_k);
  return fmt::format(
      "Bntc fused ac I = v(fused,ac)/{0}\nBheat 0 hot I = v(fused,ac)^2/{0}\nChot hot 0 {1:.9g} IC={2:.9g}\n"
      "Rhot hot 0 {3:.9g}\n",
      ohm, dissipation_w_per_k * time_constant_s, start_k, 1.0 / dissipation_w_per_k);
}

const std::vector<Taken> all = {Taken::steady, Taken::turn_on, Taken::leading_edge, Taken::trailing_edge};

struct Taking {
  std::vector<Capture> captures;
  std::vector<Figures> figures;
};

void add(Taking& taking, test::Simulated made) {
  taking.captures.push_back(std::move(made.capture));
  taking.figures.push_back(measure(taking.captures.back()));
}

FitResult fit_of(const Taking& taking) { return fit_lamp(taking.captures, taking.figures, test::without_advice()); }

bool absent(const FitResult& fit, const std::string& name) {
  const Estimate& one = estimate(fit, name);
  return one.value == 0.0 && !one.identified && one.remark == "absent: the captures do not ask for such a part";
}

void expect_inside(const FitResult& fit, const std::string& name, double truth) {
  const Estimate& one = estimate(fit, name);
  EXPECT_LE(one.lower_95, truth) << name << " " << one.value;
  EXPECT_GE(one.upper_95, truth) << name << " " << one.value;
}

TEST(LampsWithParts, InrushLimiter) {
  // Kelvin above 298.15 K at which the limiter settles, found by repeated simulation; checked below.
  const std::map<Taken, double> warm_k = {
      {Taken::steady, 16.7}, {Taken::turn_on, 0.0}, {Taken::leading_edge, 46.4}, {Taken::trailing_edge, 17.0}};
  Taking taking;
  for (const Taken taken : all) {
    auto made =
        test::simulate_capture(netlist(limiter(warm_k.at(taken)), ""), taken, {}, {}, {"v(fused)-v(ac)", "v(hot)"}, 6);
    if (taken != Taken::turn_on) {
      double loss_j = 0.0, time_s = 0.0;
      for (std::size_t k = 1; k < made.run.time_s.size(); ++k) {
        if (made.run.time_s[k] < made.first_s || made.run.time_s[k] > made.first_s + 0.12) continue;
        const double length = made.run.time_s[k] - made.run.time_s[k - 1];
        loss_j += std::abs(made.run.columns[2][k] * made.run.columns[1][k]) * length;
        time_s += length;
      }
      EXPECT_NEAR(loss_j / time_s / dissipation_w_per_k, warm_k.at(taken), 1.0) << static_cast<int>(taken);
    }
    add(taking, std::move(made));
  }
  const FitResult fit = fit_of(taking);
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "rectifier_capacitor");
  ASSERT_FALSE(absent(fit, "ntc_resistance_ohm"));
  EXPECT_TRUE(absent(fit, "damper_capacitance_f"));
  expect_inside(fit, "ntc_resistance_ohm", cold_ohm);
  expect_inside(fit, "ntc_b_k", b_k);
  expect_inside(fit, "ntc_dissipation_w_per_k", dissipation_w_per_k);
  expect_inside(fit, "ntc_time_constant_s", time_constant_s);
  expect_inside(fit, "series_resistance_ohm", fuse_ohm);
  // the load law remains open: what all of them say
  EXPECT_NEAR(estimate(fit, "rated_power_w").value, power_w, 0.06 * power_w);
  EXPECT_TRUE(estimate(fit, "ntc_resistance_ohm").identified);
  EXPECT_NEAR(estimate(fit, "ntc_resistance_ohm").value, cold_ohm, 0.1 * cold_ohm);
}

// 33 us beside the reservoir's 120 us: ten samples of a clamp that follows. At 100 kS/s and 40 kHz the damper is found
// too, its resistance 14 % too high and just outside its interval.
TEST(LampsWithParts, Damper) {
  Taking taking;
  for (const Taken taken : all) {
    add(taking,
        test::simulate_capture(netlist("Rlink fused ac 10\n", "Cdamp lamp d 100n IC=0\nRdamp d 0 330\n"), taken, {},
                               {.sample_rate_hz = 250e3, .clamp_bandwidth_hz = 100e3, .clamp_delay_s = 2e-6}, {}, 6));
  }
  const FitResult fit = fit_of(taking);
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  ASSERT_EQ(fit.family, "rectifier_capacitor");
  ASSERT_FALSE(absent(fit, "damper_capacitance_f"));
  EXPECT_TRUE(absent(fit, "ntc_resistance_ohm"));
  expect_inside(fit, "damper_capacitance_f", 100e-9);
  expect_inside(fit, "damper_resistance_ohm", 330.0);
  EXPECT_NEAR(estimate(fit, "series_resistance_ohm").value, fuse_ohm + 10.5, 0.06 * (fuse_ohm + 10.5));  // with the ESR
  EXPECT_NEAR(estimate(fit, "damper_capacitance_f").value, 100e-9, 10e-9);
}

TEST(LampsWithParts, NeitherWhereThereIsNone) {
  for (const char* across : {"", "Cin lamp 0 47n IC=0\n"}) {
    Taking taking;
    for (const Taken taken : all)
      add(taking, test::simulate_capture(netlist("Rlink fused ac 10\n", across), taken, {}, {}, {}, 6));
    const FitResult fit = fit_of(taking);
    EXPECT_TRUE(fit.accepted) << fit.verdict;
    EXPECT_TRUE(absent(fit, "ntc_resistance_ohm"));
    EXPECT_TRUE(absent(fit, "ntc_b_k"));
    EXPECT_TRUE(absent(fit, "damper_capacitance_f"));
    EXPECT_TRUE(absent(fit, "damper_resistance_ohm"));
    const auto held = std::find_if(fit.report.held.begin(), fit.report.held.end(),
                                   [](const HeldReport& one) { return one.parameter == "ntc_resistance_ohm"; });
    ASSERT_NE(held, fit.report.held.end());
    EXPECT_TRUE(held->reason == "not_asked_for" || held->reason == "does_not_pay") << held->reason;
  }
}

}  // namespace
}  // namespace lampload::fit_parts_test
