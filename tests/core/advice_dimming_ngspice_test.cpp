// Points of a dimming curve against ngspice: power into the lamps and rms current of the same circuit, solved by
// somebody else.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

#include "core/advice/dimming.h"
#include "tests/reference/ngspice.h"

namespace lampload::advice_dimming_ngspice_test {
namespace {

constexpr double half_s = 10e-3;
constexpr double diode_v = 0.24;  // of the deck's diodes at some 0.1 A; the rest of the drop is a source
constexpr int cycles = 5;         // the reservoirs settle with 7 ms

struct Point {
  std::string name;
  Mode mode;
  double conduction_deg;
  int lamps;
};
void PrintTo(const Point& one, std::ostream* out) { *out << one.name; }

/// Lamps of 15 Ohm, 1.6 V bridge, 4.7 uF with 1 Ohm, a string of 200 V and 1500 Ohm; the N lamps are one of N times the
/// current.
std::string deck_of(const Point& point) {
  const double n = point.lamps;
  const double on_s = point.conduction_deg / 180.0 * half_s;
  std::string deck =
      fmt::format("Vsupply s 0 SIN(0 {} 50)\nRsource s s1 0.4\nLsource s1 a 300u\n", 230.0 * std::numbers::sqrt2);
  deck += ".model switch SW(VT=0.5 VH=0 RON=0.1 ROFF=1e9)\nSmain a b control 0 switch\n";
  deck += "Bclamp a b I = V(a,b) > 1000 ? V(a,b) - 1000 : (V(a,b) < -1000 ? V(a,b) + 1000 : 0)\n";
  deck += fmt::format("Vcontrol control 0 PULSE(0 1 {} 20n 20n {} {})\n",
                      point.mode == Mode::leading_edge ? half_s - on_s : 0.0, on_s - 40e-9, half_s);
  deck += fmt::format("Rleak b 0 1e7\nVlamp b l 0\nRseries l x {}\n", 15.0 / n);
  deck +=
      ".model bridge D(IS=1e-9 N=0.5 RS=1e-3 CJO=1p)\nD1 x p bridge\nD2 0 p bridge\nD3 q x bridge\nD4 q 0 bridge\nRq q "
      "0 1e8\n";
  deck +=
      fmt::format("Vdrop p bus {}\nResr bus res {}\nCres res q {} IC=0\n", 1.6 - 2.0 * diode_v, 1.0 / n, 4.7e-6 * n);
  deck += test::spice_chain("bus", "q", 200.0, 1500.0, n);
  deck += ".options reltol=1e-4 abstol=1e-8 vntol=1e-5 chgtol=1e-12 itl4=100\n";
  deck += fmt::format(".tran 4u {0} 0 4u uic\n", 2.0 * cycles * half_s);
  return deck;
}

class DimmingAgainstNgspice : public testing::TestWithParam<Point> {};

TEST_P(DimmingAgainstNgspice, PowerAndCurrent) {
  const Point point = GetParam();
  const double end_s = 2.0 * cycles * half_s;
  const test::SpiceRun run = test::run_ngspice(deck_of(point), {"i(Vlamp)", "v(b)"}, end_s);
  double energy = 0.0, square = 0.0;
  for (std::size_t k = 1; k < run.time_s.size(); ++k) {
    if (run.time_s[k - 1] < end_s - 2.0 * half_s) continue;
    const double dt = run.time_s[k] - run.time_s[k - 1];
    const double a0 = run.columns[0][k - 1], a1 = run.columns[0][k];
    energy += 0.5 * dt * (a0 * run.columns[1][k - 1] + a1 * run.columns[1][k]);
    square += dt * (a0 * a0 + a0 * a1 + a1 * a1) / 3.0;
  }
  const double reference_w = energy / (2.0 * half_s);
  const double reference_a = std::sqrt(square / (2.0 * half_s));

  Channel channel;
  channel.supply.source_resistance_ohm = 0.4;
  channel.supply.source_inductance_h = 300e-6;
  channel.output.on_resistance_ohm = 0.05;  // of each of the two back to back
  channel.output.edges = {Edge::leading, Edge::trailing};
  const LampGroup lamps{
      Lamp(find_family("rectifier_capacitor", "led_string"), {15.0, 0.0, 0.0, 1.6, 4.7e-6, 1.0, 200.0, 1500.0}),
      point.lamps};
  const DimmingCurve curve = dimming_curve(channel, point.mode, std::span(&lamps, 1));
  const auto here = std::find_if(curve.rising.begin(), curve.rising.end(), [&](const DimmingPoint& p) {
    return std::abs(p.setting - point.conduction_deg) < 1e-6;
  });
  ASSERT_NE(here, curve.rising.end());
  fmt::print("{}: {:.4f} W against {:.4f} W ({:+.2f} %), {:.4f} A against {:.4f} A ({:+.2f} %)\n", point.name,
             here->power_w, reference_w, 100.0 * (here->power_w / reference_w - 1.0), here->rms_a, reference_a,
             100.0 * (here->rms_a / reference_a - 1.0));
  EXPECT_NEAR(here->power_w, reference_w, 0.01 * reference_w);
  EXPECT_NEAR(here->rms_a, reference_a, 0.015 * reference_a);
}

INSTANTIATE_TEST_SUITE_P(Points, DimmingAgainstNgspice,
                         testing::Values(Point{"leading_70", Mode::leading_edge, 70.0, 4},
                                         Point{"trailing_80", Mode::trailing_edge, 80.0, 4}),
                         [](const auto& info) { return info.param.name; });

}  // namespace
}  // namespace lampload::advice_dimming_ngspice_test
