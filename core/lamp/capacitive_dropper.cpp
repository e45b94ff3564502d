#include "core/lamp/capacitive_dropper.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/lamp/settled_cycle.h"

namespace lampload {
namespace {

using std::numbers::pi;

constexpr double highest_share = 0.85;  // of the crest, for the reservoir of a lamp that is still fed by its capacitor
constexpr double lowest_share = 0.02;   // below it a capacitor alone would do

/// The ideal circuit in steady operation, without cut: reservoir and bridge drop together stand at `share` of the
/// crest. Conduction goes from asin(2 share - 1) to the crest, and each half cycle moves 2 C1 (1 - share) crest.
struct Ideal {
  explicit Ideal(double share) : share(share) {
    const double start = std::asin(2.0 * share - 1.0);
    // root of the mean square of cos() over that part of a half cycle
    rms_over_reactive_peak = std::sqrt((0.25 * pi - 0.5 * start - 0.25 * std::sin(2.0 * start)) / pi);
    power_factor = 2.0 * std::numbers::sqrt2 / pi * share * (1.0 - share) / rms_over_reactive_peak;
  }
  double share;
  double rms_over_reactive_peak;  ///< rms current over omega C1 crest
  double power_factor;
};

/// Shares of the crest whose power factor is nearest to the one seen: one with a current that begins before the zero
/// crossing or soon after, one with a later beginning.
std::array<double, 2> likely_shares(double power_factor) {
  constexpr double turning = 0.76;  // where the ideal power factor is highest
  std::array<double, 2> best = {0.3, 0.8};
  std::array<double, 2> nearest = {1e9, 1e9};
  for (double share = lowest_share; share < highest_share; share += 0.01) {
    const std::size_t branch = share < turning ? 0 : 1;
    const double off = std::abs(std::log(Ideal(share).power_factor / power_factor));
    if (off < nearest[branch]) nearest[branch] = off, best[branch] = share;
  }
  if (nearest[1] < nearest[0]) std::swap(best[0], best[1]);
  return best;
}

}  // namespace

std::vector<std::vector<double>> CapacitiveDropper::starts(const StartHints& hints) {
  // The ideal circuit reaches 0.55; resistance and flat crests may add to it.
  constexpr double highest_power_factor = 0.75;
  constexpr double latest_start_deg = 48.0;  // asin(2 highest_share - 1) and a little
  constexpr double uncut_share = 0.9;        // of a sine's rms voltage
  if (hints.frequency_hz <= 0.0) return {};
  const double voltage_v = hints.voltage_rms_v > 0.0 ? hints.voltage_rms_v : 230.0;
  const double peak_v = hints.voltage_peak_v > 0.0 ? hints.voltage_peak_v : voltage_v * std::numbers::sqrt2;
  const double current_a = hints.current_rms_a > 0.0 ? hints.current_rms_a : 0.03;
  const double power_factor = std::clamp(hints.active_power_w / (voltage_v * current_a), 0.02, 1.0);
  const bool uncut = voltage_v * std::numbers::sqrt2 > uncut_share * peak_v;
  if (uncut && (power_factor > highest_power_factor || hints.conduction_start_deg > latest_start_deg)) return {};

  std::vector<double> series_ohm;
  if (hints.turn_on_peak_a > 0.0) series_ohm.push_back(hints.turn_on_voltage_v / hints.turn_on_peak_a);
  if (hints.current_at_jump_a > 0.0) series_ohm.push_back(hints.voltage_jump_v / hints.current_at_jump_a);
  series_ohm.push_back(150.0);  // surge resistors of 10 Ohm to 1 kOhm (common practice, no source)
  if (series_ohm.size() < 2) series_ohm.push_back(600.0);

  std::vector<std::vector<double>> starts;
  const auto add = [&](double share, double ohm, double ripple) {
    const Ideal ideal(share);
    double series_f = current_a / (2.0 * pi * hints.frequency_hz * peak_v * ideal.rms_over_reactive_peak);
    // Behind a leading edge the rms current is that of the surge: its peak squared times half of R C, every half cycle.
    if (!uncut && hints.current_at_jump_a > 0.0) {
      series_f = current_a * current_a / (hints.frequency_hz * hints.voltage_jump_v * hints.current_at_jump_a);
    }
    const double string_a = 4.0 * hints.frequency_hz * series_f * peak_v * (1.0 - share);
    const double drop_v = parameters[3].scale;
    const double reservoir_v = std::max(2.0, share * peak_v - drop_v);
    // a quarter of a cycle without current empties it by the ripple
    const double reservoir_f = string_a / (4.0 * hints.frequency_hz * ripple * reservoir_v);
    constexpr double string_share = 0.9;  // of the reservoir; the rest is the string's resistance
    starts.push_back({parameters[0].within(series_f), parameters[1].within(ohm), parameters[2].scale, drop_v,
                      parameters[4].within(reservoir_f), parameters[5].within(string_share * reservoir_v),
                      parameters[6].within((1.0 - string_share) * reservoir_v / string_a)});
  };
  const auto [likely, other] = likely_shares(power_factor);
  add(likely, series_ohm[0], 0.1);
  add(likely, series_ohm[1], 0.02);
  add(likely, series_ohm[0], 0.004);
  add(other, series_ohm[0], 0.05);
  return starts;
}

std::vector<DerivedFigure> CapacitiveDropper::derived(std::span<const double> p, const OperatingPoint& at) {
  // Begin near where the charge that the series capacitor moves feeds the string.
  const bool dc = at.frequency_hz <= 0.0;
  const double peak_v = at.voltage_v * (dc ? 1.0 : std::numbers::sqrt2);
  const double fed_s = 4.0 * (dc ? 50.0 : at.frequency_hz) * p[0];
  const double open_v = std::max(0.0, peak_v - p[3]);
  const double balance_v = std::max(0.0, (fed_s * open_v + p[5] / p[6]) / (fed_s + 1.0 / p[6]));
  const auto cycle = settled_cycle(
      Model<double>(p), std::array{dc ? 0.0 : std::min(0.0, balance_v - open_v), std::min(open_v, balance_v)}, at);
  return {{"rated_power_w", "W", cycle.power_w},
          {"power_factor", "", cycle.power_factor},
          {"reservoir_voltage_v", "V", cycle.mean[1]},
          {"ripple_v", "V", cycle.highest[1] - cycle.lowest[1]}};
}

bool CapacitiveDropper::plausible(std::span<const double> p, std::span<const double> state, const OperatingPoint& at) {
  if (at.frequency_hz <= 0.0) return false;  // no capacitor feeds a lamp from DC
  constexpr double most_resistive = 0.5;     // series resistance over the capacitor's reactance
  if (2.0 * pi * at.frequency_hz * p[0] * p[1] > most_resistive) return false;
  double reservoir_v = 0.0;
  if (!state.empty()) {
    reservoir_v = state[1];
  } else {
    for (const DerivedFigure& figure : derived(p, at)) {
      if (figure.name == "reservoir_voltage_v") reservoir_v = figure.value;
    }
  }
  const double share = reservoir_v / (std::numbers::sqrt2 * at.voltage_v);
  return share > lowest_share && share < highest_share;
}

}  // namespace lampload
