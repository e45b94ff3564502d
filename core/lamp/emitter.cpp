#include "core/lamp/emitter.h"

namespace lampload {
namespace {

// Shares of the forward voltage at the working current, common practice, no source: n kT/q is 0.9 % (n = 1) to 4 %
// (n = 4, as some blue LEDs measure), the resistance takes a few per cent.
constexpr double least_emission_share = 0.007;
constexpr double most_emission_share = 0.05;
constexpr double most_resistive_share = 0.08;
constexpr double usual_emission_share = 0.018;
constexpr double usual_resistive_share = 0.04;
constexpr double usual_emission_sd = 0.35;
constexpr double usual_resistive_sd = 0.7;

/// The saturation current that puts `current` at `volt`.
double saturation_a(double volt, double current, double emission, double ohm) {
  return current / std::expm1((volt - ohm * current) / emission);
}

}  // namespace

std::vector<std::vector<double>> Emitter::starts(const StartHints& hints) {
  const double volt = hints.on_voltage_v > 0.0 ? hints.on_voltage_v : 36.0;
  const double current = hints.on_current_a > 0.0 ? hints.on_current_a : 0.35;
  std::vector<std::vector<double>> starts;
  for (const double emission_share : {0.017, 0.011, 0.026}) {
    for (const double resistive_share : {0.06, 0.02}) {
      const double emission = emission_share * volt;
      const double ohm = resistive_share * volt / current;
      const std::vector<double> start = {saturation_a(volt, current, emission, ohm), emission, ohm};
      starts.emplace_back();
      for (std::size_t j = 0; j < start.size(); ++j) starts.back().push_back(parameters[j].within(start[j]));
    }
  }
  return starts;
}

std::vector<UsualValue> Emitter::usual(const StartHints& hints) {
  if (hints.on_voltage_v <= 0.0 || hints.on_current_a <= 0.0) return {};
  return {{1, usual_emission_share * hints.on_voltage_v, usual_emission_sd},
          {2, usual_resistive_share * hints.on_voltage_v / hints.on_current_a, usual_resistive_sd}};
}

std::vector<DerivedFigure> Emitter::derived(std::span<const double> p, const OperatingPoint& at) {
  const double current = at.current_a > 0.0 ? at.current_a : dc_current_a(p, at.voltage_v);
  const double volt = p[2] * current + p[1] * std::log1p(current / p[0]);
  return {{"rated_power_w", "W", volt * current},
          {"forward_voltage_v", "V", volt},
          {"dynamic_resistance_ohm", "Ohm", p[2] + p[1] / (current + p[0])}};
}

double Emitter::dc_current_a(std::span<const double> p, double voltage_v) {
  return Model<double>(p).current_a(voltage_v);
}

bool Emitter::plausible(std::span<const double> p, std::span<const double> /*state*/, const OperatingPoint& at) {
  const double resistive_v = p[2] * dc_current_a(p, at.voltage_v);
  return p[1] > least_emission_share * at.voltage_v && p[1] < most_emission_share * at.voltage_v &&
         resistive_v < most_resistive_share * at.voltage_v;
}

}  // namespace lampload
