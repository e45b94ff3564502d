#include "core/lamp/filament.h"

#include <cmath>

#include "core/lamp/photometry.h"

namespace lampload {
namespace {

/// Temperature at which f falls through zero, between the state's limits.
template <class F>
double falls_through_zero(const F& f) {
  double lower = Filament::ambient_k;
  double upper = Filament::highest_k;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (lower + upper);
    (f(middle) > 0.0 ? lower : upper) = middle;
  }
  return 0.5 * (lower + upper);
}

}  // namespace

std::vector<std::vector<double>> Filament::starts(const StartHints& hints) {
  const double power_w = hints.active_power_w > 0.0  ? hints.active_power_w
                         : hints.rated_power_w > 0.0 ? hints.rated_power_w
                                                     : 40.0;
  const double voltage_v = hints.voltage_rms_v > 0.0 ? hints.voltage_rms_v : 230.0;
  const double hot_ohm = hints.current_rms_a > 0.0 ? voltage_v / hints.current_rms_a : voltage_v * voltage_v / power_w;
  double cold_ohm = hints.cold_resistance_ohm;
  // the first peak comes when the wire has already warmed a little
  if (cold_ohm <= 0.0 && hints.turn_on_peak_a > 0.0) cold_ohm = 0.85 * hints.turn_on_voltage_v / hints.turn_on_peak_a;
  const bool cold_known = cold_ohm > 0.0 && hot_ohm > 2.0 * cold_ohm;

  // Wires of similar lamps: mass as (P/V)^(2/3) P, about 3.6 mJ/K for 100 W at 120 V. Common practice, no source.
  const double typical_j_per_k = 3.6e-5 * power_w * std::pow(power_w / voltage_v / 0.833, 2.0 / 3.0);
  std::vector<std::vector<double>> starts;
  const auto add = [&](double temperature_k, double heat_j_per_k, double conducted) {
    const double cold = cold_known ? cold_ohm : hot_ohm / tungsten_resistivity_ratio(temperature_k).value;
    const double t4 = std::pow(temperature_k, 4) - std::pow(ambient_k, 4);
    const double radiation =
        (1.0 - conducted) * power_w / (t4 * std::pow(temperature_k / emissivity_reference_k, parameters[3].absent));
    starts.push_back({parameters[0].within(cold), parameters[1].within(radiation), parameters[2].within(heat_j_per_k),
                      parameters[3].absent,
                      conducted > 0.0 ? parameters[4].within(conducted * power_w / (temperature_k - ambient_k)) : 0.0,
                      0.0});
  };
  const double hot_k =
      cold_known
          ? falls_through_zero([&](double t) { return hot_ohm - cold_ohm * tungsten_resistivity_ratio(t).value; })
          : 2700.0;
  // peaks have come within 20 % of their last value after about two time constants
  const double heat_j_per_k = hints.settle_time_s > 0.0
                                  ? 0.5 * hints.settle_time_s * power_w / hot_k * 5.7 / tungsten_heat_ratio(hot_k).value
                                  : typical_j_per_k;
  add(hot_k, heat_j_per_k, 0.0);
  add(hot_k, 0.4 * heat_j_per_k, 0.0);
  add(hot_k, 2.5 * heat_j_per_k, 0.0);
  if (!cold_known) add(2200.0, heat_j_per_k, 0.0);
  add(hot_k, heat_j_per_k, 0.1);
  return starts;
}

std::vector<DerivedFigure> Filament::derived(std::span<const double> p, const OperatingPoint& at) {
  const Model<double> model(p);
  const double v2 = at.voltage_v * at.voltage_v;
  const double hot_k = falls_through_zero(
      [&](double t) { return v2 / (p[0] * tungsten_resistivity_ratio(t).value) - model.loss(t).value; });
  const auto ratio = tungsten_resistivity_ratio(hot_k);
  const double power_w = v2 / (p[0] * ratio.value);
  // "Cold" was a room within 3 K of 300 K (1 % of the resistance; common practice, no source), and the resistivity
  // table holds within 1 %; a temperature follows the ratio of both with a power of 1 / 1.2.
  constexpr double temperature_sd = 0.012;
  const double restoring_w_per_k = model.loss(hot_k).slope + power_w * ratio.slope / ratio.value;
  return {{"rated_power_w", "W", power_w},
          {"hot_resistance_ohm", "Ohm", p[0] * ratio.value},
          {"hot_temperature_k", "K", hot_k, temperature_sd},
          {"cold_hot_ratio", "", 1.0 / ratio.value},
          {"thermal_time_constant_s", "s", p[2] * tungsten_heat_ratio(hot_k).value / restoring_w_per_k}};
}

double Filament::dc_current_a(std::span<const double> p, double voltage_v) {
  const Model<double> model(p);
  const double hot_k = falls_through_zero([&](double t) {
    return voltage_v * voltage_v / (p[0] * tungsten_resistivity_ratio(t).value) - model.loss(t).value;
  });
  return voltage_v / (p[0] * tungsten_resistivity_ratio(hot_k).value);
}

double Filament::light(std::span<const double> /*p*/, std::span<const double> state, double /*voltage_v*/,
                       double /*current_a*/) {
  return black_body_luminance(state[0]);
}

bool Filament::plausible(std::span<const double> p, std::span<const double> state, const OperatingPoint& at) {
  constexpr double dull_glow_k = 900.0;
  constexpr double melting_k = 3695.0;  // NIST-JANAF
  double balance_k = 0.0;
  for (const DerivedFigure& figure : derived(p, at)) {
    if (figure.name == "hot_temperature_k") balance_k = figure.value;
  }
  // Short records leave the balance open to the hot side; the temperature that the lamp was seen at counts there.
  const double seen_k = state.empty() ? balance_k : state[0];
  return balance_k > dull_glow_k && seen_k > dull_glow_k && seen_k < melting_k;
}

}  // namespace lampload
