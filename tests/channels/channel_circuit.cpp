#include "tests/channels/channel_circuit.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <stdexcept>
#include <string_view>

#include "tests/channels/lamp_circuit.h"

namespace lampload::test {
namespace {

constexpr double rad_per_deg = std::numbers::pi / 180.0;
constexpr double gate_pulse_s = 100e-6;

std::string supply(const OperatingCase& point, double phase_deg) {
  const Supply& mains = point.channel.supply;
  const double peak_v = point.supply_v * std::numbers::sqrt2;
  std::string text;
  std::string node = "s";
  for (std::size_t k = 0; k < mains.harmonics.size(); ++k) {
    const SupplyHarmonic& harmonic = mains.harmonics[k];
    const std::string next = fmt::format("s_h{}", k);
    text += fmt::format("Vharmonic{} {} {} SIN(0 {:.9g} {:.9g} 0 0 {:.9g})\n", k, node, next,
                        0.01 * harmonic.percent * peak_v, harmonic.order * mains.frequency_hz,
                        harmonic.phase_deg + harmonic.order * phase_deg);
    node = next;
  }
  return text + fmt::format("Vsupply {} 0 SIN({:.9g} {:.9g} {:.9g} 0 0 {:.9g})\n", node, mains.dc_offset_v, peak_v,
                            mains.frequency_hz, phase_deg);
}

/// Between supply `s` and lamps `b`; the switch between `a` and `b`. The path's values come from the channel's
/// description as docs/formats/channel.md and docs/constraints.md say them.
std::string path(const OperatingCase& point, double start_a) {
  const Path values = path_of(point.channel, point.supply_v);
  std::string text = fmt::format("Rsource s s1 {:.9g}\n", values.resistance_ohm);
  if (values.inductance_h > 0.0) {
    text += fmt::format("Lsource s1 a {:.9g} IC={:.9g}\n", values.inductance_h, start_a);
  } else {
    text += "Vnolsource s1 a 0\n";
  }
  text +=
      fmt::format(".model switch SW(VT=0.5 VH=0 RON={:.9g} ROFF=1e9)\nSmain a m on 0 switch\n", values.on.slope_ohm);
  if (values.on.threshold_v > 0.0) {
    text += fmt::format(
        ".model ideal D(IS=1e-9 N=0.02)\nDforward m f ideal\nVforward f d {0:.9g}\nDback r m ideal\nVback d r {0:.9g}\n"
        "Rjunction m d 1e7\n",
        values.on.threshold_v - 0.01);
  } else {
    text += "Vjunction m d 0\n";
  }
  text += "Vswitch d b 0\n";
  text +=
      fmt::format("Bclamp a b I = V(a,b) > {0:.9g} ? V(a,b) - {0:.9g} : (V(a,b) < -{0:.9g} ? V(a,b) + {0:.9g} : 0)\n",
                  values.off.threshold_v);
  if (values.snubber_f > 0.0) {
    text += fmt::format("Rsnub a sn {:.9g}\nCsnub sn b {:.9g}\n", values.snubber_ohm, values.snubber_f);
  }
  return text + "Rleak b 0 1e7\n";
}

/// Node `on` is above 0.5 V while the switch conducts.
std::string control(const OperatingCase& point) {
  const double half_s = 0.5 / point.channel.supply.frequency_hz;
  const Drive drive = drive_of(point.mode);
  const double on_s = point.setting_deg / 180.0 * half_s;
  if (point.turn_on || drive == Drive::always_on || on_s > half_s - 1e-9) return "Von on 0 1\n";
  if (drive == Drive::trailing_edge) {
    return fmt::format("Von on 0 PULSE(0 1 0 20n 20n {:.12g} {:.12g})\n", on_s - 40e-9, half_s);
  }
  if (point.channel.output.switch_kind != SwitchKind::triac) {
    return fmt::format("Von on 0 PULSE(0 1 {:.12g} 20n 20n {:.12g} {:.12g})\n", half_s - on_s, on_s - 40e-9, half_s);
  }
  // a gate pulse, and what keeps itself while the current stays above holding
  const double holding_a = std::max(point.channel.output.holding_current_a.value_or(0.0), 1e-3);
  return fmt::format(
      "Vgate gate 0 PULSE(0 1 {:.12g} 20n 20n {:.12g} {:.12g})\nCon on 0 1n IC=0\n"
      "Bon 0 on I = 1e-3*((v(gate) > 0.5 || (v(on) > 0.5 && abs(i(Vswitch)) > {:.9g}) ? 1 : 0) - v(on))\n",
      half_s - on_s, std::min(gate_pulse_s, on_s) - 40e-9, half_s, holding_a);
}

/// N lamps are one lamp whose current is passed on N times.
std::string lamps(const OperatingCase& point, const std::vector<double>& state) {
  std::string text = "Vlamps b l 0\n";
  std::size_t at = Network::node_states;
  for (std::size_t k = 0; k < point.lamps.size(); ++k) {
    const LampGroup& group = point.lamps[k];
    const std::size_t states = group.lamp.family().states.size();
    std::span<const double> start;
    if (!state.empty()) start = std::span(state).subspan(at, states);
    at += states;
    text += lamp_subcircuit(fmt::format("kind{}", k), group.lamp, start);
    text +=
        fmt::format("Elamp{0} e{0} 0 l 0 1\nVlamp{0} e{0} i{0} 0\nFlamp{0} l 0 Vlamp{0} {1}\nXlamp{0} i{0} kind{0}\n",
                    k, group.count);
  }
  return text;
}

double rms(const std::vector<double>& t, const std::vector<double>& y, double from_s, double to_s) {
  double sum = 0.0;
  for (std::size_t i = 1; i < t.size(); ++i) {
    if (t[i - 1] < from_s || t[i] > to_s) continue;
    sum += (t[i] - t[i - 1]) * (y[i] * y[i] + y[i] * y[i - 1] + y[i - 1] * y[i - 1]) / 3.0;
  }
  return std::sqrt(sum / (to_s - from_s));
}

}  // namespace

Drive drive_of(Mode mode) {
  if (mode == Mode::leading_edge) return Drive::leading_edge;
  if (mode == Mode::trailing_edge) return Drive::trailing_edge;
  return Drive::always_on;
}

std::string circuit_of(const OperatingCase& point, const std::vector<double>& start) {
  return supply(point, point.turn_on ? point.setting_deg : 0.0) +
         path(point, start.empty() ? 0.0 : start[Network::current_state]) + control(point) + lamps(point, start);
}

namespace {

/// Ideal bridges behind a hard switch fail to converge now and then: softer junctions (0.2 V more a bridge), coarser
/// tolerances and finer steps come to help, at last a resistance across the line's inductance.
SpiceRun run_patiently(const std::string& circuit, std::size_t groups, double step_s, double from_s, double end_s,
                       int& helped) {
  struct Try {
    const char* junction;
    const char* tolerance;
    double step_share;
    const char* damping;
  };
  constexpr std::array<Try, 5> tries = {
      {{"N=0.02", "reltol=1e-4", 1.0, ""},
       {"N=0.1 CJO=2p", "reltol=1e-3", 1.0, ""},
       {"N=0.2 CJO=10p RS=1e-3", "reltol=1e-3", 0.5, ""},
       {"N=0.2 CJO=50p RS=1e-2", "reltol=3e-3 abstol=1e-7", 0.25, ""},
       {"N=0.2 CJO=50p RS=1e-2", "reltol=3e-3 abstol=1e-7", 0.5, "Rdamping s1 a 2k\n"}}};
  std::vector<std::string> columns = {"i(Vswitch)", "i(Vlamps)", "v(a,b)", "v(b)"};
  for (std::size_t k = 0; k < groups; ++k) columns.push_back(fmt::format("i(Vlamp{})", k));
  for (std::size_t k = 0;; ++k) {
    helped = static_cast<int>(k);
    std::string softened = circuit;
    for (std::size_t at = 0; (at = softened.find(tries[0].junction, at)) != std::string::npos;) {
      softened.replace(at, std::string_view(tries[0].junction).size(), tries[k].junction);
      at += std::string_view(tries[k].junction).size();
    }
    try {
      return run_ngspice(softened + tries[k].damping + ".options method=gear maxord=2 gmin=1e-10 rshunt=1e9 itl4=200 " +
                             tries[k].tolerance +
                             fmt::format("\n.tran {0:.9g} {1:.12g} {2:.12g} {0:.9g} uic\n",
                                         step_s * tries[k].step_share, end_s, from_s),
                         columns, end_s);
    } catch (const std::runtime_error&) {
      if (k + 1 == tries.size()) throw;
    }
  }
}

}  // namespace

ChannelRun simulate(const OperatingCase& point, double steady_step_s) {
  const double cycle_s = 1.0 / point.channel.supply.frequency_hz;
  std::vector<double> start;
  if (!point.turn_on) {
    DrivenChannel channel(path_of(point.channel, point.supply_v), point.lamps);
    channel.steady({drive_of(point.mode), point.setting_deg});
    start = channel.state();
  }
  const std::string circuit = circuit_of(point, start);
  for (int cycles = 3;; cycles *= 4) {
    const double end_s = point.turn_on ? 0.5 * cycle_s : cycles * cycle_s;
    const double from_s = point.turn_on ? 0.0 : end_s - cycle_s;
    const double step_s = point.turn_on ? 0.25e-6 : (cycles > 3 ? 4.0 : 1.0) * steady_step_s;
    ChannelRun result;
    const SpiceRun run = run_patiently(circuit, point.lamps.size(), step_s, point.turn_on ? 0.0 : from_s - cycle_s,
                                       end_s, result.helped);
    result.each_a.resize(point.lamps.size());
    if (!point.turn_on) {
      const double last = rms(run.time_s, run.columns[0], from_s, end_s);
      const double before = rms(run.time_s, run.columns[0], from_s - cycle_s, from_s);
      result.drift = std::abs(last - before) / std::max(last, 1e-9);
      if (result.drift > 2e-3 && cycles < 100) continue;
    }
    for (std::size_t i = 0; i < run.time_s.size(); ++i) {
      if (run.time_s[i] < from_s) continue;
      result.time_s.push_back(run.time_s[i] - from_s);
      result.switch_a.push_back(run.columns[0][i]);
      result.lamp_a.push_back(run.columns[1][i]);
      result.switch_v.push_back(run.columns[2][i]);
      result.terminal_v.push_back(run.columns[3][i]);
      for (std::size_t k = 0; k < result.each_a.size(); ++k) result.each_a[k].push_back(run.columns[4 + k][i]);
    }
    return result;
  }
}

double power_from(const OperatingCase& point, const std::vector<double>& start, int cycles) {
  const double cycle_s = 1.0 / point.channel.supply.frequency_hz;
  const double end_s = cycles * cycle_s;
  int helped = 0;
  const SpiceRun run =
      run_patiently(circuit_of(point, start), point.lamps.size(), 2e-6, end_s - cycle_s, end_s, helped);
  double energy_j = 0.0;
  for (std::size_t k = 1; k < run.time_s.size(); ++k) {
    energy_j += 0.5 * (run.time_s[k] - run.time_s[k - 1]) *
                (run.columns[1][k] * run.columns[3][k] + run.columns[1][k - 1] * run.columns[3][k - 1]);
  }
  return energy_j / (run.time_s.back() - run.time_s.front());
}

namespace {

double at(const ChannelRun& run, const std::vector<double>& y, double time_s) {
  const auto after = std::lower_bound(run.time_s.begin(), run.time_s.end(), time_s);
  if (after == run.time_s.begin()) return y.front();
  if (after == run.time_s.end()) return y.back();
  const auto k = static_cast<std::size_t>(after - run.time_s.begin());
  const double span = run.time_s[k] - run.time_s[k - 1];
  return span > 0.0 ? std::lerp(y[k - 1], y[k], (time_s - run.time_s[k - 1]) / span) : y[k];
}

double peak(const std::vector<double>& y) {
  double highest = 0.0;
  for (const double x : y) highest = std::max(highest, std::abs(x));
  return highest;
}

/// Steepest rise of |switch current| over 1 us within 200 us after each closing.
double rise(const OperatingCase& point, const ChannelRun& run) {
  const double half_s = 0.5 / point.channel.supply.frequency_hz;
  const double closes_s = point.turn_on ? 0.0 : half_s * (1.0 - point.setting_deg / 180.0);
  double steepest = 0.0;
  for (const double begin : {closes_s, closes_s + half_s}) {
    if (begin > run.time_s.back()) break;
    for (double t = begin; t < begin + 200e-6; t += 0.05e-6) {
      const double change = std::abs(at(run, run.switch_a, t + 1e-6)) - std::abs(at(run, run.switch_a, t));
      steepest = std::max(steepest, change / 1e-6);
    }
  }
  return steepest;
}

}  // namespace

std::optional<double> reading(const std::string& constraint, const OperatingCase& point, const ChannelRun& run) {
  const Output& output = point.channel.output;
  const double half_s = 0.5 / point.channel.supply.frequency_hz;
  const double end_s = run.time_s.back();
  const double on_s = point.setting_deg / 180.0 * half_s;
  if (constraint == "continuous_current" || constraint == "breaker_load") {
    return rms(run.time_s, run.switch_a, 0.0, end_s);
  }
  if (constraint == "repetitive_peak" || constraint == "surge_peak" || constraint == "breaker_trip") {
    return peak(run.switch_a);
  }
  if (constraint == "surge_i2t") {
    const double value = rms(run.time_s, run.switch_a, 0.0, end_s);
    return value * value * end_s;
  }
  if (constraint == "current_rise") return rise(point, run) * 1e-6;
  if (constraint == "turn_off_energy") {
    const double cut_a =
        std::max(std::abs(at(run, run.lamp_a, on_s - 0.2e-6)), std::abs(at(run, run.lamp_a, on_s + half_s - 0.2e-6)));
    const Path values = path_of(point.channel, point.supply_v);
    double clamp_j = 0.0;  // into the clamp, which is 1 Ohm above its voltage, over all cuts of the run
    const auto power_w = [&](double switch_v) {
      const double over_v = std::abs(switch_v) - values.off.threshold_v;
      return over_v > 0.0 ? std::abs(switch_v) * over_v : 0.0;
    };
    for (std::size_t i = 1; i < run.time_s.size(); ++i) {
      clamp_j += 0.5 * (run.time_s[i] - run.time_s[i - 1]) * (power_w(run.switch_v[i]) + power_w(run.switch_v[i - 1]));
    }
    return std::max(0.5 * values.inductance_h * cut_a * cut_a, clamp_j * half_s / end_s);
  }
  if (constraint == "switch_temperature") {
    double loss_j = 0.0;
    for (std::size_t i = 1; i < run.time_s.size(); ++i) {
      // what the closed switch takes; open, it carries next to nothing
      if (std::abs(run.switch_v[i]) > 20.0 || std::abs(run.switch_v[i - 1]) > 20.0) continue;
      loss_j += 0.5 * (run.time_s[i] - run.time_s[i - 1]) *
                (run.switch_a[i] * run.switch_v[i] + run.switch_a[i - 1] * run.switch_v[i - 1]);
    }
    return *output.ambient_c + *output.thermal_resistance_k_per_w * loss_j / end_s;
  }
  return std::nullopt;
}

double direct_total(const OperatingCase& point) {
  const bool side_by_side = point.mode == Mode::dc_pwm;
  std::string circuit;
  std::string node = "top";
  int made = 0;
  for (std::size_t k = 0; k < point.lamps.size(); ++k) {
    std::string kind = lamp_subcircuit(fmt::format("kind{}", k), point.lamps[k].lamp, {});
    circuit += kind;
    for (int n = 0; n < point.lamps[k].count; ++n, ++made) {
      if (side_by_side) {
        circuit += fmt::format("Xlamp{} top kind{}\n", made, k);
      } else {  // one lamp carries the current, and its voltage is stacked on the others'
        circuit += fmt::format("Fone{0} 0 one{0} Vcurrent 1\nXlamp{0} one{0} kind{1}\n", made, k);
        const std::string next = fmt::format("stack{}", made);
        circuit += fmt::format("Estack{0} {1} {2} one{0} 0 1\n", made, node, next);
        node = next;
      }
    }
  }
  if (side_by_side) {
    circuit += fmt::format("Vcurrent feed top 0\nVfeed feed 0 PWL(0 0 1m {0:.9g} 2m {0:.9g})\n",
                           *point.channel.output.supply_voltage_v);
  } else {
    circuit += fmt::format("Vend {0} 0 0\nVcurrent feed top 0\nIfeed 0 feed PWL(0 0 1m {1:.9g} 2m {1:.9g})\n", node,
                           *point.channel.output.current_a);
  }
  const SpiceRun run = run_ngspice(circuit + ".tran 1u 2m\n", {side_by_side ? "i(Vcurrent)" : "v(top)"}, 2e-3);
  return run.columns[0].back();
}

}  // namespace lampload::test
