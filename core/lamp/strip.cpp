#include "core/lamp/strip.h"

namespace lampload {
namespace {

// Of the supply, what LEDs take and resistors leave; strips for 12 V have three LEDs of 3 V in a string, those for 24 V
// six or seven. Less than a tenth in resistors lets the current run away. Common practice, no source.
constexpr double least_string_share = 0.4;
constexpr double usual_string_share = 0.82;
constexpr double usual_sd = 0.07;
constexpr double most_string_share = 0.91;

}  // namespace

std::vector<std::vector<double>> Strip::starts(const StartHints& hints) {
  if (hints.on_voltage_v <= 0.0 || hints.on_current_a <= 0.0) return {{20.0, 2.0, 0.0}};
  const auto add = [&](std::vector<std::vector<double>>& to, double volt, double ohm) {
    to.push_back({parameters[0].within(volt), parameters[1].within(ohm), 0.0});
  };
  std::vector<std::vector<double>> starts;
  // The line through the upper part of the current over the voltage, where captures show it.
  const auto& v = hints.dc_curve_v;
  const auto& i = hints.dc_curve_a;
  double n = 0.0, sv = 0.0, si = 0.0, svi = 0.0, sii = 0.0;
  for (std::size_t k = 0; k < v.size(); ++k) {
    if (i[k] < 0.3 * hints.on_current_a) continue;
    n += 1.0, sv += v[k], si += i[k], svi += v[k] * i[k], sii += i[k] * i[k];
  }
  const double spread = n * sii - si * si;
  if (n >= 3.0 && spread > 1e-3 * n * sii) {
    const double ohm = (n * svi - sv * si) / spread;
    const double volt = (sv - ohm * si) / n;
    if (ohm > 0.0 && volt > 0.0) add(starts, volt, ohm);
  }
  for (const double share : {usual_string_share, 0.7, 0.9}) {
    add(starts, share * hints.on_voltage_v, (1.0 - share) * hints.on_voltage_v / hints.on_current_a);
  }
  return starts;
}

std::vector<UsualValue> Strip::usual(const StartHints& hints) {
  if (hints.on_voltage_v <= 0.0) return {};
  return {{0, usual_string_share * hints.on_voltage_v, usual_sd}};
}

std::vector<DerivedFigure> Strip::derived(std::span<const double> p, const OperatingPoint& at) {
  const double current = dc_current_a(p, at.voltage_v);
  return {{"rated_power_w", "W", at.voltage_v * current},
          {"rated_current_a", "A", current},
          {"rise_time_constant_s", "s", p[2] / p[1]}};
}

double Strip::dc_current_a(std::span<const double> p, double voltage_v) { return Model<double>(p).steady_a(voltage_v); }

bool Strip::plausible(std::span<const double> p, std::span<const double> /*state*/, const OperatingPoint& at) {
  return p[0] > least_string_share * at.voltage_v && p[0] < most_string_share * at.voltage_v;
}

}  // namespace lampload
