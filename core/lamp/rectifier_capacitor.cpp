#include "core/lamp/rectifier_capacitor.h"

#include <cmath>
#include <numbers>

#include "core/lamp/settled_cycle.h"

namespace lampload {
namespace {

/// What the waveform says of the parts that all load laws share.
struct Reading {
  double voltage_v, peak_v, power_w, frequency_hz;
  double bus_v;                ///< mean
  std::vector<double> series;  ///< series resistances worth trying, best first
  double reservoir_f;
};

Reading read(const StartHints& hints) {
  Reading r{};
  r.voltage_v = hints.voltage_rms_v > 0.0 ? hints.voltage_rms_v : 230.0;
  r.peak_v = hints.voltage_peak_v > 0.0 ? hints.voltage_peak_v : r.voltage_v * std::numbers::sqrt2;
  r.power_w = hints.active_power_w > 0.0 ? hints.active_power_w : hints.rated_power_w > 0.0 ? hints.rated_power_w : 5.0;
  r.frequency_hz = hints.frequency_hz > 0.0 ? hints.frequency_hz : 50.0;

  // Surge resistors of small lamps are of the order of a hundredth of the load. Common practice, no source.
  const double load_ohm = r.voltage_v * r.voltage_v / r.power_w;
  if (hints.turn_on_peak_a > 0.0) r.series.push_back(hints.turn_on_voltage_v / hints.turn_on_peak_a);
  if (hints.current_at_jump_a > 0.0) r.series.push_back(hints.voltage_jump_v / hints.current_at_jump_a);
  for (double share : {0.01, 0.003, 0.03}) r.series.push_back(share * load_ohm);

  // The reservoir feeds the load from where conduction stops to where it starts again.
  constexpr double degree = std::numbers::pi / 180.0;
  const double start_deg = hints.conduction_start_deg;
  const double stop_deg = std::clamp(hints.conduction_stop_deg, 90.0, 150.0);
  const double high_v = r.peak_v * std::sin(stop_deg * degree);
  const double low_v = r.peak_v * std::sin(std::clamp(start_deg, 5.0, 88.0) * degree);
  const double discharge_s = (180.0 - stop_deg + start_deg) / 360.0 / r.frequency_hz;
  const bool seen = start_deg > 5.0 && high_v > 1.01 * low_v;
  r.reservoir_f = seen ? 2.0 * r.power_w * discharge_s / (high_v * high_v - low_v * low_v)
                       : 1e-6 * r.power_w * std::pow(230.0 / r.voltage_v, 2);
  r.bus_v = seen ? 0.5 * (high_v + low_v) : 0.9 * r.peak_v;
  return r;
}

std::vector<std::vector<double>> load_starts(const ConstantPowerLoad&, const Reading&, double power_w) {
  return {{power_w}};
}

std::vector<std::vector<double>> load_starts(const ConstantCurrentLoad&, const Reading& r, double power_w) {
  return {{power_w / r.bus_v}};
}

std::vector<std::vector<double>> load_starts(const LedStringLoad&, const Reading& r, double power_w) {
  std::vector<std::vector<double>> starts;
  for (double share : {0.9, 0.75}) {
    const double string_v = share * r.bus_v;
    starts.push_back({string_v, (r.bus_v - string_v) * r.bus_v / power_w});
  }
  return starts;
}

}  // namespace

template <class Load>
std::vector<std::vector<double>> RectifierCapacitor<Load>::starts(const StartHints& hints) {
  const Reading r = read(hints);
  std::vector<std::vector<double>> starts;
  const auto add = [&](double series_ohm, double reservoir_f, bool with_optional) {
    const double drop_v = parameters[3].scale;
    const double lost_w = std::min(
        0.3 * r.power_w, hints.current_rms_a * hints.current_rms_a * series_ohm + drop_v * r.power_w / r.voltage_v);
    for (const auto& load : load_starts(Load{}, r, r.power_w - lost_w)) {
      if (starts.size() == 6) return;
      std::vector<double> start = {
          series_ohm,  with_optional ? 100e-6 : 0.0,          with_optional ? 1e-9 * r.power_w : 0.0, drop_v,
          reservoir_f, with_optional ? 0.1 * series_ohm : 0.0};
      start.insert(start.end(), load.begin(), load.end());
      start.resize(parameters.size(), 0.0);  // neither limiter nor damper
      for (std::size_t i = 0; i < start.size(); ++i) {
        if (!(parameters[i].optional && start[i] == parameters[i].absent)) start[i] = parameters[i].within(start[i]);
      }
      starts.push_back(std::move(start));
    }
  };
  add(r.series[0], r.reservoir_f, false);
  add(r.series[1], r.reservoir_f, false);
  add(r.series[0], r.reservoir_f, true);
  add(r.series[2], r.reservoir_f, false);
  add(r.series[0], 2.0 * r.reservoir_f, false);
  return starts;
}

template <class Load>
std::vector<std::vector<double>> RectifierCapacitor<Load>::part_starts(std::span<const double> p,
                                                                       std::string_view part) {
  std::vector<std::vector<double>> starts;
  if (part == ntc::part) {
    // As large as the resistance that was found, and in lamps of little current a small disc.
    const auto usual = [](std::size_t k) { return ntc::parameters[k].scale; };
    for (const double share : {0.5, 2.0}) {
      starts.push_back({ntc::parameters[0].within(share * p[0]), usual(1), usual(2), usual(3)});
    }
    starts.push_back({ntc::parameters[0].within(p[0]), usual(1), 0.3 * usual(2), usual(3)});
  }
  if (part == damper::part) {
    // 47 nF behind a hundred to some thousand ohm: common practice, no source.
    for (const double ohm : {100.0, 470.0, 2200.0}) starts.push_back({47e-9, ohm});
  }
  return starts;
}

template <class Load>
std::vector<DerivedFigure> RectifierCapacitor<Load>::derived(std::span<const double> p, const OperatingPoint& at) {
  const double peak_v = at.voltage_v * (at.frequency_hz <= 0.0 ? 1.0 : std::numbers::sqrt2);
  const auto cycle = settled_cycle(Model<double>(p), std::array{std::max(0.0, peak_v - p[3]), 0.0, ntc::ambient_k, 0.0},
                                   at, {0.0, 0.0, slow_time_s(ntc::state, parameters, p), 0.0});
  return {{"rated_power_w", "W", cycle.power_w},
          {"power_factor", "", cycle.power_factor},
          {"reservoir_voltage_v", "V", cycle.mean[0]},
          {"ripple_v", "V", cycle.highest[0] - cycle.lowest[0]}};
}

template <class Load>
double RectifierCapacitor<Load>::dc_current_a(std::span<const double> p, double voltage_v) {
  const typename Load::template Law<double> load(p.subspan(shared));
  const double open_v = std::max(0.0, std::abs(voltage_v) - p[3]);
  const auto drawn_through = [&](double ohm) {
    const auto drawn = [&](const Tangent<double>& line) {
      return (line.offset_a + line.slope_s * open_v) / (1.0 + line.slope_s * ohm);
    };
    const double below_a = drawn(load.below());
    return open_v - ohm * below_a > load.threshold_v() ? drawn(load.above(open_v, ohm)) : below_a;
  };
  double ohm = p[0];
  if (p[first_ntc] > 0.0) {
    const InrushLimiter<double> limiter(p[first_ntc], p[first_ntc + 1], p[first_ntc + 2], p[first_ntc + 3]);
    // The temperature at which it gives off what its resistance makes of the current.
    double cold_k = ntc::ambient_k;
    double hot_k = ntc::highest_k;
    for (int i = 0; i < 60; ++i) {
      const double middle_k = 0.5 * (cold_k + hot_k);
      const double ntc_ohm = limiter.resistance_ohm(middle_k);
      const double current_a = drawn_through(p[0] + ntc_ohm);
      const double given_off_w = p[first_ntc + 2] * (middle_k - ntc::ambient_k);
      (current_a * current_a * ntc_ohm > given_off_w ? cold_k : hot_k) = middle_k;
    }
    ohm += limiter.resistance_ohm(cold_k);
  }
  return std::copysign(drawn_through(ohm), voltage_v);
}

template <class Load>
bool RectifierCapacitor<Load>::plausible(std::span<const double> p, std::span<const double> state,
                                         const OperatingPoint& at) {
  const double crest_v = std::numbers::sqrt2 * at.voltage_v;
  if (!Load::plausible(p.subspan(shared), crest_v)) return false;
  const double least_v = 0.4 * crest_v;
  if (!state.empty() && state[0] <= least_v) return false;
  // A record may begin where a reservoir of next to nothing happens to be full. Half: a lamp that was captured dimmed
  // settles elsewhere at its nominal voltage (common practice of this project, no source).
  const double settled_v = state.empty() ? least_v : 0.5 * least_v;
  for (const DerivedFigure& figure : derived(p, at)) {
    if (figure.name == "reservoir_voltage_v") return figure.value > settled_v;
  }
  return false;
}

template struct RectifierCapacitor<ConstantPowerLoad>;
template struct RectifierCapacitor<ConstantCurrentLoad>;
template struct RectifierCapacitor<LedStringLoad>;

}  // namespace lampload
