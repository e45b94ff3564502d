#include "cli/receive_simulation.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

#include "core/circuit/drive.h"
#include "core/circuit/sampled.h"
#include "core/circuit/simulated_capture.h"

namespace lampload {
namespace {

// How far a figure may be from the simulation: room around what honest files show (docs/formats/lamp.md has which, and
// the figures found).
constexpr Tolerance simulated = {0.05, 0.30};
constexpr double supply_unknown = 0.07;
constexpr double cut_share = 1.5;
constexpr double pulse_share = 2.0;
constexpr double peak_share = 1.3;
constexpr double i2t_share = 1.5;

/// Means over whole cycles.
struct Drawn {
  double voltage_v = 0.0;
  double current_a = 0.0;
  double power_w = 0.0;
};

Drawn drawn(const Lamp& lamp, double supply_v, double frequency_hz, const Cut& cut) {
  CaptureSetup setup;
  setup.edge = cut.edge;
  setup.conduction_deg = cut.conduction_angle_deg;
  setup.cycles = 2;
  setup.current_step_of_peak = 0.0;
  const Capture capture = simulate_capture(lamp, supply_v, frequency_hz, setup);
  Drawn sum;
  for (std::size_t k = 0; k < capture.samples(); ++k) {
    sum.voltage_v += capture.voltage_v[k] * capture.voltage_v[k];
    sum.current_a += capture.current_a[k] * capture.current_a[k];
    sum.power_w += capture.voltage_v[k] * capture.current_a[k];
  }
  const auto count = static_cast<double>(capture.samples());
  return {std::sqrt(sum.voltage_v / count), std::sqrt(sum.current_a / count), sum.power_w / count};
}

/// Share of a sine's rms value that this much of every half cycle has, from or to the zero crossing.
double rms_share(double conduction_deg) {
  const double angle = conduction_deg * std::numbers::pi / 180.0;
  return std::sqrt(std::max(0.0, angle - 0.5 * std::sin(2.0 * angle)) / std::numbers::pi);
}

struct DrawnBetween {
  Drawn least;
  Drawn most;
};

/// At the supply that leaves the stated voltage at the terminals (a lamp that holds its charge keeps them up after a
/// cut), and a little above and below it: by that much a lamp takes its charge in one cut and not in another. A dimmer
/// that lets go before the zero crossing leaves less at the terminals: up to `open_v` therefore, the supply of captures
/// that are not cut.
std::optional<DrawnBetween> drawn_when_cut(const Lamp& lamp, const Figures& stated, double frequency_hz,
                                           double open_v) {
  double supply_v = stated.voltage_rms_v;
  if (!stated.cut.supply_side_voltage) {
    const double share = rms_share(stated.cut.conduction_angle_deg);
    if (share < 0.05) return std::nullopt;
    supply_v /= share;
    for (int i = 0; i < 2; ++i) {
      const double seen_v = drawn(lamp, supply_v, frequency_hz, stated.cut).voltage_v;
      if (std::abs(seen_v - stated.voltage_rms_v) < 0.01 * stated.voltage_rms_v) break;
      supply_v *= stated.voltage_rms_v / std::max(seen_v, 1e-3);
    }
  }
  DrawnBetween range{{1e300, 1e300, 1e300}, {}};
  const double highest_v = stated.cut.edge == Edge::leading ? std::max(supply_v, open_v) : supply_v;
  for (const double one_v : {(1.0 - supply_unknown) * supply_v, supply_v, (1.0 + supply_unknown) * highest_v}) {
    const Drawn one = drawn(lamp, one_v, frequency_hz, stated.cut);
    range.least.current_a = std::min(range.least.current_a, one.current_a);
    range.least.power_w = std::min(range.least.power_w, one.power_w);
    range.most.current_a = std::max(range.most.current_a, one.current_a);
    range.most.power_w = std::max(range.most.power_w, one.power_w);
  }
  return range;
}

struct SimulatedSurge {
  double peak_a = 0.0;
  double i2t_a2s = 0.0;
};

/// Behind a source of next to no impedance: no recording shows more.
SimulatedSurge highest_surge(const Lamp& lamp, double supply_v, double frequency_hz, double phase_deg) {
  Path path = ordinary_path(supply_v, frequency_hz);
  path.resistance_ohm = 0.05;
  path.inductance_h = 10e-6;
  const LampGroup group{lamp, 1};
  const TurnOnFigures found = turn_on(path, std::span(&group, 1), phase_deg, nullptr, screening);
  return {found.peak_a, found.i2t_a2s};
}

/// Behind a weak source, through a slow instrument: means over 100 us, or two samples.
SimulatedSurge lowest_surge(const Lamp& lamp, double supply_v, double frequency_hz, double phase_deg,
                            double interval_s) {
  Path path = ordinary_path(supply_v, frequency_hz);
  path.resistance_ohm = 1.5;
  path.inductance_h = 1e-3;
  const LampGroup group{lamp, 1};
  Waveform wave;
  (void)turn_on(path, std::span(&group, 1), phase_deg, &wave, screening);
  const double step_s = std::max(100e-6, 2.0 * interval_s);
  constexpr std::size_t fine = 20;
  const auto count = static_cast<std::size_t>(0.5 / frequency_hz / step_s);
  const std::vector<double> current =
      sampled(wave.time_s, wave.current_a, wave.time_s.front(), step_s / fine, count * fine);
  SimulatedSurge surge;
  for (std::size_t k = 0; k < count; ++k) {
    double mean = 0.0;
    for (std::size_t j = 0; j < fine; ++j) mean += current[k * fine + j] / fine;
    surge.peak_a = std::max(surge.peak_a, std::abs(mean));
    surge.i2t_a2s += mean * mean * step_s;
  }
  return surge;
}

}  // namespace

void check_simulated(const LampRecord& lamp, const FamilyInfo& family, const std::vector<double>& parameters,
                     Differences& differences) {
  const StoredFit& fit = *lamp.fit;
  const Lamp model(family, parameters);
  double open_v = lamp.nominal.voltage_v.value_or(0.0);
  if (const StoredCapture* open = least_cut(lamp.captures)) {
    if (open->figures.cut.edge == Edge::none) open_v = open->figures.voltage_rms_v;
  }
  const double pieces = fit.samples.empty() ? 1.0 : 1.2;  // the mean of several is none of them
  // What the fit left over does not count; a file must not make that as large as it likes.
  const auto floor_of = [&](double stated) { return std::min(3.0 * fit.residual_rms_a, 0.3 * std::abs(stated)); };
  for (std::size_t i = 0; i < lamp.captures.size(); ++i) {
    const StoredCapture& stored = lamp.captures[i];
    if (std::find(fit.capture_ids.begin(), fit.capture_ids.end(), stored.id) == fit.capture_ids.end()) continue;
    const Figures& stated = stored.figures;
    const std::string of = " of " + stored.capture.file;
    const std::string key = fmt::format("captures[{}].figures.", i);
    if (stated.direct) {
      if (family.dc_current_a == nullptr || stated.direct->on_voltage_v <= 0.0) continue;
      differences.compare(key + "direct.on_current_a", "current" + of, stated.direct->on_current_a,
                          family.dc_current_a(model.parameters(), stated.direct->on_voltage_v), "A", simulated,
                          floor_of(stated.direct->on_current_a));
      continue;
    }
    if (!stated.mains_frequency_hz) continue;
    const double hertz = *stated.mains_frequency_hz;
    if (stated.turn_on) {
      // Through a dimmer the supply at that instant is not known.
      if (!stated.inrush || stated.cut.edge != Edge::none) continue;
      const double phase = std::fmod(std::fmod(stated.turn_on->phase_deg, 180.0) + 180.0, 180.0);
      const SimulatedSurge most = highest_surge(model, stated.voltage_rms_v, hertz, phase);
      const SimulatedSurge least =
          lowest_surge(model, stated.voltage_rms_v, hertz, phase, stored.capture.sample_interval_s);
      differences.within(key + "inrush.peak_a", "inrush peak" + of, stated.inrush->peak_a, least.peak_a, most.peak_a,
                         "A", peak_share * pieces, floor_of(stated.inrush->peak_a));
      differences.within(key + "inrush.i2t_a2s", "inrush I2t" + of, stated.inrush->i2t_a2s, least.i2t_a2s, most.i2t_a2s,
                         "A2s", i2t_share * pieces, 0.0);
      continue;
    }
    if (stated.cut.edge != Edge::none) {
      const std::optional<DrawnBetween> found = drawn_when_cut(model, stated, hertz, open_v);
      if (!found) continue;
      // Choke and cable round off the pulses that a charging reservoir draws at a leading edge.
      differences.within(key + "current_rms_a", "current" + of, stated.current_rms_a,
                         found->least.current_a / pulse_share, found->most.current_a, "A", cut_share * pieces, 0.0);
      differences.within(key + "active_power_w", "power" + of, stated.active_power_w, found->least.power_w,
                         found->most.power_w, "W", cut_share * pieces, 0.0);
      continue;
    }
    const Drawn found = drawn(model, stated.voltage_rms_v, hertz, stated.cut);
    const double floor_a = floor_of(stated.current_rms_a);
    differences.compare(key + "current_rms_a", "current" + of, stated.current_rms_a, found.current_a, "A", simulated,
                        floor_a);
    differences.compare(key + "active_power_w", "power" + of, stated.active_power_w, found.power_w, "W", simulated,
                        floor_a * stated.voltage_rms_v);
  }
}

}  // namespace lampload
