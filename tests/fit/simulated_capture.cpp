#include "tests/fit/simulated_capture.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include "core/standard_normal.h"

namespace lampload::test {
namespace {

/// 0 to 1 over time: how far the switch is closed.
std::string control(Taken taken, double half_s, double turn_on_s) {
  constexpr double ramp_s = 5e-6;
  switch (taken) {
    case Taken::steady:
      return "DC 1";
    case Taken::turn_on:
      return fmt::format("PWL(0 0 {:.12g} 0 {:.12g} 1)", turn_on_s, turn_on_s + ramp_s);
    case Taken::leading_edge:
      return fmt::format("PULSE(0 1 {:.12g} {} {} {:.12g} {:.15g})", 0.5 * half_s, ramp_s, ramp_s,
                         0.5 * half_s - 1.5 * ramp_s, half_s);
    case Taken::trailing_edge:
      return fmt::format("PULSE(0 1 0 50u 50u {:.12g} {:.15g})", 0.5 * half_s - 50e-6, half_s);
  }
  return {};
}

/// One pole, exact for straight lines between the points of the run; then read at equal intervals.
std::vector<double> seen(const SpiceRun& run, std::size_t column, double bandwidth_hz, double first_s,
                         double interval_s, std::size_t count) {
  SpiceRun slow;
  slow.time_s = run.time_s;
  slow.columns.resize(1);
  const double rate = 2.0 * std::numbers::pi * bandwidth_hz;
  double shown = run.columns[column].front();
  slow.columns[0].push_back(shown);
  for (std::size_t k = 1; k < run.time_s.size(); ++k) {
    const double length = run.time_s[k] - run.time_s[k - 1];
    const double before = run.columns[column][k - 1];
    const double slope = length > 0.0 ? (run.columns[column][k] - before) / length : 0.0;
    const double lag = slope / rate;
    shown = before + slope * length - lag + (shown - before + lag) * std::exp(-rate * length);
    slow.columns[0].push_back(shown);
  }
  std::vector<double> samples;
  for (std::size_t k = 0; k < count; ++k) {
    samples.push_back(value_at(slow, 0, first_s + static_cast<double>(k) * interval_s));
  }
  return samples;
}

/// Steps of 8 bits, over a range from the row 1-2-5 of four divisions to each side with 25 steps each.
double digitise(std::vector<double>& values, double noise_steps, std::mt19937_64& random) {
  double peak = 0.0;
  for (const double x : values) peak = std::max(peak, std::abs(x));
  double step = std::pow(10.0, std::floor(std::log10(peak / 100.0)));
  for (const double factor : {2.0, 2.5, 2.0, 2.0, 2.5}) {
    if (100.0 * step >= 1.03 * peak) break;
    step *= factor;
  }
  for (double& x : values) {
    x = step * std::clamp(std::round(x / step + noise_steps * standard_normal(random)), -128.0, 127.0);
  }
  return step;
}

void take(Simulated& made, double duration_s, const Instrument& instrument, std::uint64_t seed) {
  Capture& capture = made.capture;
  capture.sample_interval_s = 1.0 / instrument.sample_rate_hz;
  const auto count = static_cast<std::size_t>(std::lround(duration_s * instrument.sample_rate_hz));
  capture.voltage_v = seen(made.run, 0, 2e6, made.first_s, capture.sample_interval_s, count);
  capture.current_a = seen(made.run, 1, instrument.clamp_bandwidth_hz, made.first_s - instrument.clamp_delay_s,
                           capture.sample_interval_s, count);
  std::mt19937_64 random(seed);
  capture.voltage_step_v = digitise(capture.voltage_v, instrument.noise_steps, random);
  capture.current_step_a = digitise(capture.current_a, instrument.noise_steps, random);
}

}  // namespace

Simulated simulate_capture(const std::string& lamp, Taken taken, const Mains& mains, const Instrument& instrument,
                           const std::vector<std::string>& expressions, int settle_cycles) {
  const double cycle_s = 1.0 / mains.frequency_hz;
  const bool turn_on = taken == Taken::turn_on;
  const double turn_on_s = 2.25 * cycle_s;
  Simulated made;
  made.first_s = turn_on ? turn_on_s - cycle_s : settle_cycles * cycle_s;
  const double duration_s = (turn_on ? 12.0 : 6.0) * cycle_s;
  const double end_s = made.first_s + duration_s + 1e-3;
  // The switch is a conductance between 0.2 uS and 10 S that moves along an exponential.
  const std::string deck = fmt::format(
      ".options gmin=1e-10 rshunt=1e9 method=gear maxord=2 reltol=1e-4 abstol=1e-9 vntol=1e-5 itl4=100\n"
      "Vmains mains 0 SIN(0 {:.9g} {:g})\nRsource mains behind 0.4\nLsource behind line 796u\nRdamping behind line "
      "300\n"
      "Vcontrol control 0 {}\nBswitch line terminal I=v(line,terminal)*2e-7*exp({:.9g}*v(control))\n"
      "Rdivider terminal 0 47k\nVsense terminal lamp 0\n{}.tran 2u {:.9g} 0 2u uic\n",
      mains.voltage_v * std::numbers::sqrt2, mains.frequency_hz, control(taken, 0.5 * cycle_s, turn_on_s),
      std::log(10.0 / 2e-7), lamp, end_s);
  std::vector<std::string> columns = {"v(lamp)", "i(vsense)"};
  columns.insert(columns.end(), expressions.begin(), expressions.end());
  made.run = run_ngspice(deck, columns, end_s);

  made.capture.file = fmt::format("simulated {}", static_cast<int>(taken));
  take(made, duration_s, instrument, static_cast<std::uint64_t>(taken) + 1);
  return made;
}

Simulated simulate_dc_capture(const std::string& source, const std::string& lamp, double first_s, double duration_s,
                              const Instrument& instrument, std::uint64_t seed) {
  Simulated made;
  made.first_s = first_s;
  const double end_s = first_s + duration_s + 1e-4;
  const std::string deck = fmt::format(
      ".options gmin=1e-10 rshunt=1e9 method=gear maxord=2 reltol=1e-4 abstol=1e-9 vntol=1e-5 itl4=100\n"
      "{}Vsense line lamp 0\n{}.tran 1u {:.9g} 0 1u uic\n",
      source, lamp, end_s);
  made.run = run_ngspice(deck, {"v(lamp)", "i(vsense)"}, end_s);
  made.capture.file = fmt::format("simulated on DC {}", seed);
  take(made, duration_s, instrument, seed);
  return made;
}

}  // namespace lampload::test
