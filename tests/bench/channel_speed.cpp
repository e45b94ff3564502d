// Processor time of one channel simulation beside ngspice's: the same circuit from rest, the same span, answers at the
// same output step, in one run. What is equal is the error: both are held against ngspice with a fine step, and ngspice
// gets the coarsest of its settings that comes at least as close as the program.
//
//   cmake --preset release -DLAMPLOAD_BENCH=ON && cmake --build --preset release --target channel_speed
//   build/release/tests/bench/channel_speed

#include <fmt/format.h>
#include <sys/resource.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <string>
#include <vector>

#include "tests/channels/channel_circuit.h"

namespace lampload::test {
namespace {

constexpr double output_step_s = 10e-6;
constexpr int cycles = 10;
constexpr double goal = 200.0;

struct Named {
  std::string name;
  OperatingCase point;
};

/// Values of a waveform at the output step.
std::vector<double> at_output_step(const std::vector<double>& t, const std::vector<double>& y, double end_s) {
  std::vector<double> out;
  std::size_t k = 1;
  for (double at = 0.0; at < end_s - 1e-9; at += output_step_s) {
    while (k + 1 < t.size() && t[k] < at) ++k;
    const double span = t[k] - t[k - 1];
    out.push_back(span > 0.0 ? std::lerp(y[k - 1], y[k], std::clamp((at - t[k - 1]) / span, 0.0, 1.0)) : y[k]);
  }
  return out;
}

double children_s() {
  rusage usage{};
  getrusage(RUSAGE_CHILDREN, &usage);
  return static_cast<double>(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
         1e-6 * static_cast<double>(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec);
}

struct Run {
  std::vector<double> current_a;
  double seconds = 0.0;
};

Run in_ngspice(const OperatingCase& point, double end_s, double step_s, const std::string& tolerance) {
  const std::string deck = circuit_of(point, {}) + ".options method=gear maxord=2 gmin=1e-10 rshunt=1e9 itl4=100 " +
                           tolerance + fmt::format("\n.tran {0:.9g} {1:.12g} 0 {0:.9g} uic\n", step_s, end_s);
  const double began = children_s();
  const SpiceRun run = run_ngspice(deck, {"i(Vlamps)"}, end_s);
  return {at_output_step(run.time_s, run.columns[0], end_s), children_s() - began};
}

/// As fine as ngspice gets through: a diode behind a resistance and a step of the supply at once stops the finest.
Run fine_in_ngspice(const OperatingCase& point, double end_s) {
  struct Setting {
    double step_s;
    const char* tolerance;
  };
  constexpr std::array<Setting, 4> settings = {{{0.2e-6, "reltol=1e-5 abstol=1e-9 vntol=1e-6"},
                                                {0.25e-6, "reltol=1e-4 abstol=1e-8 vntol=1e-5 chgtol=1e-12"},
                                                {0.5e-6, "reltol=1e-4 abstol=1e-7 vntol=1e-4 chgtol=1e-12"},
                                                {0.5e-6, "reltol=1e-3"}}};
  for (const Setting& setting : settings) {
    try {
      Run run = in_ngspice(point, end_s, setting.step_s, setting.tolerance);
      std::printf("  reference: step %.2f us, %s\n", 1e6 * setting.step_s, setting.tolerance);
      return run;
    } catch (const std::exception&) {
      std::printf("  reference: step %.2f us, %s: did not converge\n", 1e6 * setting.step_s, setting.tolerance);
    }
  }
  return {};
}

Run ours(const OperatingCase& point, double end_s) {
  constexpr int repeats = 20;
  Run result;
  const std::clock_t began = std::clock();
  Waveform waveform;  // its memory is asked for once
  for (int n = 0; n < repeats; ++n) {
    DrivenChannel channel(path_of(point.channel, point.supply_v), point.lamps);
    for (std::vector<double>* column : {&waveform.supply_v, &waveform.terminal_v, &waveform.switch_a}) column->clear();
    for (std::vector<double>& column : waveform.lamp_a) column.clear();
    waveform.time_s = {0.0};
    waveform.current_a = {0.0};
    for (int half = 0; half < 2 * cycles; ++half) {
      channel.half_cycle({drive_of(point.mode), point.setting_deg}, &waveform);
    }
    result.current_a = at_output_step(waveform.time_s, waveform.current_a, end_s);
  }
  result.seconds = static_cast<double>(std::clock() - began) / CLOCKS_PER_SEC / repeats;
  return result;
}

/// Rms difference over the reference's peak.
double error(const Run& run, const Run& reference) {
  double sum = 0.0, peak = 0.0;
  for (std::size_t i = 0; i < reference.current_a.size(); ++i) {
    sum += std::pow(run.current_a[i] - reference.current_a[i], 2);
    peak = std::max(peak, std::abs(reference.current_a[i]));
  }
  return std::sqrt(sum / static_cast<double>(reference.current_a.size())) / peak;
}

std::vector<Named> circuits() {
  Channel channel;
  channel.supply.source_resistance_ohm = 0.4;  // IEC TR 60725 reference impedance
  channel.supply.source_inductance_h = 796e-6;
  channel.output.on_resistance_ohm = 0.1;
  const Lamp led(find_family("rectifier_capacitor", "led_string"), {15.0, 0.0, 0.0, 1.6, 4.7e-6, 1.0, 200.0, 1500.0});
  const Lamp converter(find_family("rectifier_capacitor", "constant_power"), {20.0, 0.0, 2e-8, 1.6, 5e-6, 1.0, 8.0});
  const Lamp pendant(find_family("filament", ""), {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0});
  std::vector<Named> all;
  all.push_back({"10 LED strings, leading edge", {channel, {{led, 10}}, Mode::leading_edge, false, 100.0, 230.0}});
  all.push_back({"10 LED strings, uncut", {channel, {{led, 10}}, Mode::on_off, false, 180.0, 230.0}});
  channel.output.snubber_f = 47e-9;
  channel.output.snubber_ohm = 220.0;
  all.push_back(
      {"5 converters, trailing edge, snubber", {channel, {{converter, 5}}, Mode::trailing_edge, false, 110.0, 230.0}});
  channel.output.choke_h = 1.5e-3;
  all.push_back({"2 filaments and 4 converters, leading edge, choke",
                 {channel, {{pendant, 2}, {converter, 4}}, Mode::leading_edge, false, 90.0, 230.0}});
  return all;
}

}  // namespace
}  // namespace lampload::test

int main() {
  using namespace lampload::test;
  const double end_s = cycles * 20e-3;
  double least = 1e9;
  for (const Named& one : circuits()) {
    std::printf("%s\n", one.name.c_str());
    const Run reference = fine_in_ngspice(one.point, end_s);
    if (reference.current_a.empty()) continue;
    const Run mine = ours(one.point, end_s);
    const double my_error = error(mine, reference);
    std::printf("  this program: %.1f ms, error %.3f %% of peak (rms)\n", 1e3 * mine.seconds, 100.0 * my_error);
    Run equal;
    for (const double step_s : {10e-6, 5e-6, 2e-6, 1e-6, 0.5e-6}) {
      Run run;
      try {
        run = in_ngspice(one.point, end_s, step_s, "reltol=1e-3");
      } catch (const std::exception&) {
        std::printf("  ngspice, step %.1f us: did not converge\n", 1e6 * step_s);
        continue;
      }
      const double their_error = error(run, reference);
      std::printf("  ngspice, step %.1f us: %.0f ms, error %.3f %%\n", 1e6 * step_s, 1e3 * run.seconds,
                  100.0 * their_error);
      equal = run;
      if (their_error <= my_error) break;
    }
    std::fflush(stdout);
    if (equal.current_a.empty()) continue;
    const double ratio = equal.seconds / mine.seconds;
    least = std::min(least, ratio);
    std::printf("  %.0f times\n", ratio);
  }
  std::printf("least: %.0f times (goal %.0f)\n", least, goal);
  return least >= goal ? 0 : 1;
}
