#include "core/advice/simulation.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/advice/dimming.h"
#include "core/circuit/pulses.h"
#include "core/circuit/sampled.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr int most_cycles = 10000;
constexpr double most_samples = 20e6;
constexpr double mains_interval_s = 1e-5;
constexpr double samples_a_pulse = 400.0;

void refuse(const std::string& message) { throw Error(ErrorCode::input_refused, message); }

void check(const SimulationSetup& setup) {
  if (setup.cycles < 1 || setup.cycles > most_cycles)
    refuse(fmt::format("{} cycles; expected 1 to {}", setup.cycles, most_cycles));
  if (setup.supply_v && !(*setup.supply_v > 0.0)) refuse("the supply's voltage is not above zero");
  if (setup.turn_on_deg && !(*setup.turn_on_deg >= 0.0 && *setup.turn_on_deg < 180.0))
    refuse(fmt::format("a turn-on at {:g} degrees; expected 0 to less than 180", *setup.turn_on_deg));
  if (!has_setting(setup.mode)) return;
  if (setting_of(setup.mode) == Setting::duty) {
    if (!(setup.setting > 0.0 && setup.setting <= 1.0))
      refuse(fmt::format("a duty of {:g}; expected above 0, up to 1", setup.setting));
  } else if (!(setup.setting > 0.0 && setup.setting <= 180.0)) {
    refuse(fmt::format("a conduction angle of {:g} degrees; expected above 0, up to 180", setup.setting));
  }
}

/// A whole waveform, from its first cycle's start on.
struct Whole {
  Waveform wave;
  double from_s = 0.0;
  double length_s = 0.0;
  double interval_s = 0.0;
  bool settled = true;
};

Whole on_mains(const Channel& channel, std::span<const LampGroup> lamps, const SimulationSetup& setup) {
  const Drive drive = setup.mode == Mode::leading_edge    ? Drive::leading_edge
                      : setup.mode == Mode::trailing_edge ? Drive::trailing_edge
                                                          : Drive::always_on;
  const Operation operation{drive, setup.mode == Mode::on_off ? 180.0 : setup.setting};
  const double cycle_s = 1.0 / channel.supply.frequency_hz;
  // straight lines between the steps are what is written: no step so long that a sine would show its corners
  DrivenChannel driven(path_of(channel, setup.supply_v.value_or(channel.supply.voltage_v)), lamps,
                       {.longest_step_s = 20e-6});
  Whole whole;
  if (setup.turn_on_deg) {
    driven.idle(2, whole.wave);
    driven.run(operation, 2 * setup.cycles, whole.wave, *setup.turn_on_deg);
  } else {
    whole.settled = driven.steady(operation).periodic;
    Waveform rest;  // up to the end of a whole cycle
    if (!driven.at_cycle_start()) driven.run(operation, 1, rest);
    driven.run(operation, 2 * setup.cycles, whole.wave);
  }
  whole.from_s = std::round(whole.wave.time_s.front() / cycle_s) * cycle_s;
  whole.length_s = (setup.cycles + (setup.turn_on_deg ? 1 : 0)) * cycle_s;
  whole.interval_s = setup.sample_interval_s.value_or(mains_interval_s);
  return whole;
}

Whole on_pulses(const Channel& channel, std::span<const LampGroup> lamps, const SimulationSetup& setup) {
  const double period_s = 1.0 / channel.output.pwm_hz.value_or(usual_pulse_hz);
  Whole whole;
  if (setup.mode == Mode::dc_constant_current) {
    if (setup.turn_on_deg) pulsed_current(channel, lamps, 0.0, &whole.wave);
    for (int i = 0; i < setup.cycles; ++i) pulsed_current(channel, lamps, setup.setting, &whole.wave);
  } else {
    PulsedVoltage pulses(channel, lamps, setup.supply_v);
    if (setup.turn_on_deg) {
      pulses.run(0.0, 1, whole.wave);
    } else {
      whole.settled = pulses.steady(setup.setting).periodic;
      whole.from_s = pulses.time_s();
    }
    pulses.run(setup.setting, setup.cycles, whole.wave);
  }
  whole.length_s = (setup.cycles + (setup.turn_on_deg ? 1 : 0)) * period_s;
  whole.interval_s = setup.sample_interval_s.value_or(period_s / samples_a_pulse);
  return whole;
}

}  // namespace

SimulatedRecord simulate(const Channel& channel, std::span<const LampGroup> lamps, const SimulationSetup& setup) {
  check(setup);
  need_fed_by(channel, setup.mode, lamps);
  const bool pulses = has_setting(setup.mode) && setting_of(setup.mode) == Setting::duty;
  if (setup.sample_interval_s && !(*setup.sample_interval_s > 0.0)) refuse("the sample interval is not above zero");
  const Whole whole = pulses ? on_pulses(channel, lamps, setup) : on_mains(channel, lamps, setup);
  const double samples = std::round(whole.length_s / whole.interval_s);
  if (!(samples >= 2.0 && samples <= most_samples)) {
    refuse(fmt::format("{:.3g} samples; expected 2 to {:.3g}", samples, most_samples));
  }
  const auto take = [&](const std::vector<double>& value) {
    return sampled(whole.wave.time_s, value, whole.from_s, whole.interval_s, static_cast<std::size_t>(samples));
  };
  SimulatedRecord record;
  record.settled = whole.settled;
  record.sample_interval_s = whole.interval_s;
  record.supply_v = take(whole.wave.supply_v);
  record.terminal_v = take(whole.wave.terminal_v);
  record.current_a = take(whole.wave.current_a);
  for (std::size_t k = 0; k < lamps.size(); ++k) {
    record.lamps_a.push_back(take(whole.wave.lamp_a[k]));
    if (setup.mode == Mode::dc_constant_current) continue;  // the same current through all
    for (double& current_a : record.lamps_a.back()) current_a *= lamps[k].count;
  }
  return record;
}

}  // namespace lampload
