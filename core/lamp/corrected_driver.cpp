#include "core/lamp/corrected_driver.h"

#include <numbers>

#include "core/lamp/half_cycle.h"
#include "core/lamp/settled_cycle.h"

namespace lampload {
namespace {

// What tells it from a resistance: reactive over active power, or a threshold.
constexpr double least_lead = 0.02;
/// Below it a threshold is what junctions, a slow clamp and the edge of a dimmer leave of a resistance. Common
/// practice, no source; a simulated resistor on one capture of 20 kS/s came out with 5 V.
constexpr double least_threshold_v = 10.0;
/// A converter has room for low mains and universal input, not for more. Common practice, no source.
constexpr double most_room = 12.0;

/// The straight line current = conductance (voltage - threshold) over the points where there is current.
struct Line {
  double conductance_s = 0.0;
  double threshold_v = 0.0;
  double left = 1.0;  ///< rms, over that of the current
};

Line line_through(const HalfCycle& seen) {
  const double most = *std::max_element(seen.current_a.begin(), seen.current_a.end());
  double n = 0.0, sv = 0.0, si = 0.0, svv = 0.0, svi = 0.0;
  for (std::size_t k = 0; k < seen.voltage_v.size(); ++k) {
    if (seen.current_a[k] < 0.1 * most) continue;
    n += 1.0, sv += seen.voltage_v[k], si += seen.current_a[k];
    svv += seen.voltage_v[k] * seen.voltage_v[k], svi += seen.voltage_v[k] * seen.current_a[k];
  }
  const double spread = n * svv - sv * sv;
  if (!(spread > 0.0)) return {};
  Line line;
  line.conductance_s = (n * svi - sv * si) / spread;
  if (!(line.conductance_s > 0.0)) return {};
  line.threshold_v = std::max(0.0, (sv - si / line.conductance_s) / n);
  double square = 0.0, all = 0.0;
  for (std::size_t k = 0; k < seen.voltage_v.size(); ++k) {
    const double drawn = line.conductance_s * std::max(0.0, seen.voltage_v[k] - line.threshold_v);
    square += (seen.current_a[k] - drawn) * (seen.current_a[k] - drawn);
    all += seen.current_a[k] * seen.current_a[k];
  }
  line.left = std::sqrt(square / all);
  return line;
}

// A filter shows by the lead it makes, or by the surge at a leading edge.
bool leads(const StartHints& hints) { return -hints.reactive_power_var > 0.5 * least_lead * hints.active_power_w; }
bool surges(const StartHints& hints, const Line& line) {
  return hints.current_at_jump_a > 2.0 * line.conductance_s * hints.voltage_jump_v;
}

constexpr std::size_t mean_square_state = 1;  // among the states

SettledCycle<2> settle(std::span<const double> p, const OperatingPoint& at) {
  return settled_cycle(CorrectedDriver::Model<double>(p), std::array{0.0, 0.0}, at);
}

}  // namespace

bool CorrectedDriver::shows_itself(const StartHints& hints) {
  const auto seen = read_half_cycle(hints);
  if (!seen) return false;
  const Line line = line_through(*seen);
  return hints.cut_deg >= 5.0 || leads(hints) || surges(hints, line) || line.threshold_v >= least_threshold_v;
}

std::vector<std::vector<double>> CorrectedDriver::starts(const StartHints& hints) {
  constexpr double most_left = 0.2;
  const auto seen = read_half_cycle(hints);
  if (!seen || seen->voltage_v.size() < 20 || seen->loop.value_or(0.0) > widest_loop) return {};
  if (!(hints.active_power_w > least_power_factor * hints.voltage_rms_v * hints.current_rms_a)) return {};
  const Line line = line_through(*seen);
  if (line.left > most_left) return {};
  const bool jumps = hints.voltage_jump_v != 0.0 || hints.turn_on_voltage_v != 0.0;  // else nothing need be seen of it
  if (jumps && !shows_itself(hints)) return {};

  const double omega = 2.0 * std::numbers::pi * hints.frequency_hz;
  const double by_power_f =
      std::max(0.0, -hints.reactive_power_var) / (omega * hints.voltage_rms_v * hints.voltage_rms_v);
  const double capacitance_f = seen->capacitance_f > 0.0 ? seen->capacitance_f : by_power_f;
  const double series_ohm = surges(hints, line) ? hints.voltage_jump_v / hints.current_at_jump_a : parameters[3].scale;
  std::vector<std::vector<double>> starts;
  // At its limit and at its power at once: the captures pull apart what is not so.
  const auto add = [&](double conductance_s, double power_w) {
    starts.push_back({conductance_s, capacitance_f, line.threshold_v, series_ohm, power_w, parameters[5].scale});
    for (std::size_t j = 0; j < parameters.size(); ++j) {
      starts.back()[j] = parameters[j].within(starts.back()[j]);
    }
  };
  add(line.conductance_s, hints.active_power_w);
  add(2.0 * line.conductance_s, hints.active_power_w);
  add(line.conductance_s, 2.0 * hints.active_power_w);
  return starts;
}

std::vector<DerivedFigure> CorrectedDriver::derived(std::span<const double> p, const OperatingPoint& at) {
  const auto seen = settle(p, at);
  const double square_v2 = seen.state[mean_square_state];
  const double running_s = square_v2 * p[0] > p[4] ? p[4] / square_v2 : p[0];
  return {{"rated_power_w", "W", seen.power_w},
          {"power_factor", "", seen.power_factor},
          {"running_conductance_s", "S", running_s}};
}

double CorrectedDriver::light(std::span<const double> p, std::span<const double> state, double /*voltage_v*/,
                              double /*current_a*/) {
  const double height_v = std::abs(state[0]);
  const double conductance_s = p[0] * state[1] > p[4] ? p[4] / state[1] : p[0];
  return conductance_s * height_v * std::max(0.0, height_v - p[2]);
}

bool CorrectedDriver::plausible(std::span<const double> p, std::span<const double> /*state*/,
                                const OperatingPoint& at) {
  if (at.frequency_hz <= 0.0) return true;
  const auto seen = settle(p, at);
  const double square_v2 = at.voltage_v * at.voltage_v;
  const double reactive_var = 2.0 * std::numbers::pi * at.frequency_hz * p[1] * square_v2;
  const bool shows = reactive_var > least_lead * seen.power_w || p[2] > least_threshold_v;
  const bool works = seen.power_factor > least_power_factor;
  return shows && works && p[0] * seen.state[mean_square_state] < most_room * seen.power_w;
}

}  // namespace lampload
