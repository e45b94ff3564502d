#include "core/lamp/corrected_driver.h"

#include <numbers>

#include "core/lamp/half_cycle.h"

namespace lampload {
namespace {

// What tells it from a resistance: reactive over active power, or a threshold.
constexpr double least_lead = 0.02;
constexpr double least_threshold_v = 3.0;
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

/// One settled cycle at the terminals.
struct Settled {
  double power_w = 0.0, current_rms_a = 0.0, mean_square_v2 = 0.0;
};

Settled settle(std::span<const double> p, const OperatingPoint& at) {
  const bool dc = at.frequency_hz <= 0.0;
  const CorrectedDriver::Model<double> model(p);
  constexpr int steps = 400;
  constexpr int most_cycles = 400;
  const double dt_s = 1.0 / (dc ? 50.0 : at.frequency_hz) / steps;
  const auto voltage = [&](int n) {
    return at.voltage_v * (dc ? 1.0 : std::numbers::sqrt2 * std::sin(2.0 * std::numbers::pi * n / steps));
  };
  std::array<double, 2> state = {voltage(0), 0.0};
  Settled seen;
  for (int cycle = 0; cycle < most_cycles; ++cycle) {
    const double before_v2 = state[1];
    double energy = 0.0, square = 0.0;
    for (int n = 0; n < steps; ++n) {
      const auto step = model.advance(state, voltage(n), voltage(n + 1), dt_s);
      energy += 0.5 * (voltage(n) + voltage(n + 1)) * step.charge_c;
      square += step.charge_c * step.charge_c / dt_s;
    }
    seen = {energy / (steps * dt_s), std::sqrt(square / (steps * dt_s)), state[1]};
    if (std::abs(state[1] - before_v2) < 1e-6 * state[1]) break;
  }
  return seen;
}

}  // namespace

std::vector<std::vector<double>> CorrectedDriver::starts(const StartHints& hints) {
  constexpr double most_left = 0.2;
  const auto seen = read_half_cycle(hints);
  if (!seen || seen->voltage_v.size() < 20 || seen->loop.value_or(0.0) > widest_loop) return {};
  if (!(hints.active_power_w > least_power_factor * hints.voltage_rms_v * hints.current_rms_a)) return {};
  const Line line = line_through(*seen);
  if (line.left > most_left) return {};
  // A filter shows by the lead it makes, or by the surge at a leading edge.
  const bool leads = -hints.reactive_power_var > 0.5 * least_lead * hints.active_power_w;
  const bool surges = hints.current_at_jump_a > 2.0 * line.conductance_s * hints.voltage_jump_v;
  if (hints.cut_deg < 5.0 && !leads && !surges && line.threshold_v < least_threshold_v) return {};

  const double omega = 2.0 * std::numbers::pi * hints.frequency_hz;
  const double by_power_f =
      std::max(0.0, -hints.reactive_power_var) / (omega * hints.voltage_rms_v * hints.voltage_rms_v);
  const double capacitance_f = seen->capacitance_f > 0.0 ? seen->capacitance_f : by_power_f;
  const double series_ohm = surges ? hints.voltage_jump_v / hints.current_at_jump_a : parameters[3].scale;
  std::vector<std::vector<double>> starts;
  // At its limit and at its power at once: the captures pull apart what is not so.
  const auto add = [&](double conductance_s, double power_w) {
    starts.push_back({conductance_s, capacitance_f, line.threshold_v, series_ohm, power_w, parameters[5].scale});
    for (std::size_t j = 0; j < parameters.size(); ++j) {
      starts.back()[j] = std::clamp(starts.back()[j], parameters[j].lower, parameters[j].upper);
    }
  };
  add(line.conductance_s, hints.active_power_w);
  add(2.0 * line.conductance_s, hints.active_power_w);
  add(line.conductance_s, 2.0 * hints.active_power_w);
  return starts;
}

std::vector<DerivedFigure> CorrectedDriver::derived(std::span<const double> p, const OperatingPoint& at) {
  const Settled seen = settle(p, at);
  const double apparent = at.voltage_v * seen.current_rms_a;
  const double running_s = seen.mean_square_v2 * p[0] > p[4] ? p[4] / seen.mean_square_v2 : p[0];
  return {{"rated_power_w", "W", seen.power_w},
          {"power_factor", "", apparent > 0.0 ? seen.power_w / apparent : 0.0},
          {"running_conductance_s", "S", running_s}};
}

bool CorrectedDriver::plausible(std::span<const double> p, std::span<const double> /*state*/,
                                const OperatingPoint& at) {
  if (at.frequency_hz <= 0.0) return true;
  const Settled seen = settle(p, at);
  const double square_v2 = at.voltage_v * at.voltage_v;
  const double reactive_var = 2.0 * std::numbers::pi * at.frequency_hz * p[1] * square_v2;
  const bool shows = reactive_var > least_lead * seen.power_w || p[2] > least_threshold_v;
  const bool works = seen.power_w > least_power_factor * at.voltage_v * seen.current_rms_a;
  return shows && works && p[0] * seen.mean_square_v2 < most_room * seen.power_w;
}

}  // namespace lampload
