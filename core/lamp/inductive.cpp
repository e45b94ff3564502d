#include "core/lamp/inductive.h"

#include <complex>
#include <numbers>

namespace lampload {
namespace {

double angular(double frequency_hz) { return 2.0 * std::numbers::pi * frequency_hz; }

/// Magnitude of resistance and reactance from voltage, current and power.
struct Impedance {
  double resistance_ohm, reactance_ohm;
};

Impedance read(const StartHints& hints) {
  const double current2 = hints.current_rms_a * hints.current_rms_a;
  const double resistance = std::max(hints.active_power_w, 1e-3) / current2;
  const double magnitude = hints.voltage_rms_v / hints.current_rms_a;
  return {resistance, std::sqrt(std::max(magnitude * magnitude - resistance * resistance, 1e-4 * magnitude))};
}

void keep_inside(std::span<const ParameterSpec> table, std::vector<std::vector<double>>& starts) {
  for (std::vector<double>& start : starts) {
    for (std::size_t j = 0; j < start.size(); ++j) {
      if (!table[j].optional) start[j] = table[j].within(start[j]);
    }
  }
}

std::vector<DerivedFigure> figures(std::complex<double> impedance, const OperatingPoint& at) {
  const double magnitude = std::abs(impedance);
  const double current_a = at.voltage_v / magnitude;
  return {{"rated_power_w", "W", current_a * current_a * impedance.real()},
          {"power_factor", "", impedance.real() / magnitude},
          {"rated_current_a", "A", current_a}};
}

std::complex<double> series_impedance(std::span<const double> p, const OperatingPoint& at) {
  return {p[0], angular(at.frequency_hz) * p[1]};
}

std::complex<double> core_impedance(std::span<const double> p, const OperatingPoint& at) {
  const std::complex<double> core(0.0, angular(at.frequency_hz) * p[2]);
  return series_impedance(p, at) + core * p[3] / (core + p[3]);
}

bool lags(std::complex<double> impedance) { return impedance.imag() > inductive::least_lag * impedance.real(); }

}  // namespace

bool inductive::possible(const StartHints& hints) {
  if (hints.frequency_hz <= 0.0 || !(hints.current_rms_a > 0.0)) return false;
  // behind a cut the fundamental shifts, whatever the lamp
  return hints.cut_deg > 5.0 || hints.reactive_power_var > least_lag * hints.active_power_w;
}

std::vector<std::vector<double>> SeriesInductive::starts(const StartHints& hints) {
  if (!inductive::possible(hints)) return {};
  const auto [r, x] = read(hints);
  const double omega = angular(hints.frequency_hz);
  std::vector<std::vector<double>> starts = {{r, x / omega}, {r, 3.0 * x / omega}};
  keep_inside(parameters, starts);
  return starts;
}

std::vector<DerivedFigure> SeriesInductive::derived(std::span<const double> p, const OperatingPoint& at) {
  return figures(series_impedance(p, at), at);
}

bool SeriesInductive::plausible(std::span<const double> p, std::span<const double> /*state*/,
                                const OperatingPoint& at) {
  return at.frequency_hz <= 0.0 || lags(series_impedance(p, at));
}

std::vector<std::vector<double>> LoadedCore::starts(const StartHints& hints) {
  if (!inductive::possible(hints)) return {};
  const auto [r, x] = read(hints);
  const double omega = angular(hints.frequency_hz);
  // the same impedance at the mains frequency, as both branches side by side
  const double square = r * r + x * x;
  const double load_ohm = square / r;
  const double core_h = square / x / omega;
  std::vector<std::vector<double>> starts = {
      // a loaded transformer: winding and leakage of some per cent
      {0.05 * load_ohm, 0.03 * load_ohm / omega, core_h, 0.95 * load_ohm, 0.0},
      // a motor or an idle transformer: much resistance in the winding
      {0.4 * r, 0.2 * x / omega, 0.8 * core_h, load_ohm, 0.0},
      {0.1 * r, 0.5 * x / omega, 2.0 * core_h, r, 0.0},
  };
  keep_inside(parameters, starts);
  return starts;
}

std::vector<DerivedFigure> LoadedCore::derived(std::span<const double> p, const OperatingPoint& at) {
  return figures(core_impedance(p, at), at);
}

bool LoadedCore::plausible(std::span<const double> p, std::span<const double> /*state*/, const OperatingPoint& at) {
  return at.frequency_hz <= 0.0 || lags(core_impedance(p, at));
}

}  // namespace lampload
