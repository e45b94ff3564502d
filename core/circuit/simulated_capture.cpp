#include "core/circuit/simulated_capture.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <random>

#include "core/circuit/drive.h"
#include "core/circuit/sampled.h"
#include "core/standard_normal.h"

namespace lampload {
namespace {

constexpr double before_turn_on_s = 4e-3;
constexpr double crest_deg = 90.0;
/// What a dimmer, its wiring and the probes leave across cut terminals, which would float at a reservoir's voltage
/// without it: common practice, no source.
constexpr double across_terminals_ohm = 47e3;

void low_pass(std::vector<double>& x, double interval_s, double bandwidth_hz) {
  const double stay = std::exp(-2.0 * std::numbers::pi * bandwidth_hz * interval_s);
  double shown = x.empty() ? 0.0 : x.front();
  for (double& value : x) {
    shown = value + (shown - value) * stay;
    value = shown;
  }
}

/// Noise, then steps.
void digitise(std::vector<double>& x, double step, double noise_steps, std::uint64_t seed) {
  if (!(step > 0.0)) return;
  std::mt19937_64 random(seed);
  for (double& value : x) {
    value = step * std::round(value / step + noise_steps * standard_normal(random));
  }
}

}  // namespace

Path ordinary_path(double supply_v, double frequency_hz) {
  Channel channel;
  channel.supply.voltage_v = supply_v;
  channel.supply.frequency_hz = frequency_hz;
  channel.supply.source_resistance_ohm = 0.4;
  channel.supply.source_inductance_h = 300e-6;
  channel.output.switch_kind = SwitchKind::mosfet_pair;
  return path_of(channel, supply_v);
}

Capture simulate_capture(const Lamp& lamp, double supply_v, double frequency_hz, const CaptureSetup& setup) {
  const Path path = ordinary_path(supply_v, frequency_hz);
  const LampGroup group{lamp, 1};
  const double cycle_s = 1.0 / frequency_hz;
  Waveform wave;
  double from_s = 0.0;
  if (setup.turn_on) {
    const double on_s = cycle_s * (1.0 + crest_deg / 360.0);
    from_s = on_s - before_turn_on_s;
    wave.time_s = {from_s, on_s};
    wave.terminal_v = wave.current_a = {0.0, 0.0};
    Network network(path, std::span(&group, 1), on_s, screening);
    network.set_closed(true);
    network.run_to(from_s + setup.cycles * cycle_s, [&](const Instant&, const Instant& at) {
      wave.time_s.push_back(at.time_s);
      wave.terminal_v.push_back(at.terminal_v);
      wave.current_a.push_back(at.current_a);
      return true;
    });
  } else {
    const std::array<LampGroup, 2> groups = {group,
                                             LampGroup{Lamp(find_family("resistor", ""), {across_terminals_ohm})}};
    const bool cut = setup.edge != Edge::none;
    DrivenChannel channel(path, std::span(groups).first(cut ? 2 : 1), screening);
    const Drive drive = setup.edge == Edge::leading    ? Drive::leading_edge
                        : setup.edge == Edge::trailing ? Drive::trailing_edge
                                                       : Drive::always_on;
    Waveform one;
    channel.steady({drive, setup.conduction_deg}, &one);
    for (int n = 0; n < setup.cycles; ++n) {
      for (std::size_t k = 0; k < one.time_s.size(); ++k) {
        wave.time_s.push_back(one.time_s[k] + n * cycle_s);
        wave.terminal_v.push_back(one.terminal_v[k]);
        wave.current_a.push_back(one.current_a[k] - (cut ? one.terminal_v[k] / across_terminals_ohm : 0.0));
      }
    }
    from_s = wave.time_s.front();
  }
  const auto count = static_cast<std::size_t>(setup.cycles * cycle_s / setup.sample_interval_s);
  Capture capture;
  capture.file = "simulated";
  capture.sample_interval_s = setup.sample_interval_s;
  capture.voltage_v = sampled(wave.time_s, wave.terminal_v, from_s, setup.sample_interval_s, count);
  capture.current_a = sampled(wave.time_s, wave.current_a, from_s, setup.sample_interval_s, count);
  low_pass(capture.current_a, setup.sample_interval_s, setup.bandwidth_hz);
  double peak = 0.0;
  for (const double i : capture.current_a) peak = std::max(peak, std::abs(i));
  capture.voltage_step_v = setup.voltage_step_v;
  capture.current_step_a = setup.current_step_of_peak * peak;
  digitise(capture.voltage_v, capture.voltage_step_v, setup.noise_steps, 1);
  digitise(capture.current_a, capture.current_step_a, setup.noise_steps, 2);
  return capture;
}

}  // namespace lampload
