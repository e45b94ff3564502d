#include "db/figures_checks.h"

#include <fmt/format.h>

#include <cmath>
#include <string>

namespace lampload {
namespace {

using json::Object;

constexpr double loose = 0.02;  // of what other programs round, or measure a little otherwise

bool apart(double a, double b, double share, double floor) {
  return std::abs(a - b) > share * std::max(std::abs(a), std::abs(b)) + floor;
}

void check_sampling(const Figures& figures, double interval_s, const Object& at) {
  if (apart(figures.sample_rate_hz * interval_s, 1.0, 1e-3, 0.0)) {
    at.refuse("sample_rate_hz", fmt::format("{} Hz are not one sample every {} s", figures.sample_rate_hz, interval_s));
  }
  const double duration_s = static_cast<double>(figures.samples) / figures.sample_rate_hz;
  // Other programs may count from the first sample to the last.
  if (apart(figures.duration_s, duration_s, 1e-3, 1.5 * interval_s)) {
    at.refuse("duration_s", fmt::format("{} s are not {} samples at {} Hz", figures.duration_s, figures.samples,
                                        figures.sample_rate_hz));
  }
  if (figures.steady_last > figures.samples || figures.steady_first > figures.steady_last) {
    at.refuse("steady_last", "is not within the capture");
  }
}

void check_power(const Figures& figures, const Object& at) {
  if (std::abs(figures.active_power_w) > figures.apparent_power_va * (1.0 + loose) + 1e-6) {
    at.refuse("active_power_w", fmt::format("{} W are more than the apparent power, {} VA", figures.active_power_w,
                                            figures.apparent_power_va));
  }
  const double product = figures.voltage_rms_v * figures.current_rms_a;
  if (apart(figures.apparent_power_va, product, 0.05, 1e-3)) {
    at.refuse("apparent_power_va", fmt::format("{} VA are not {} V times {} A", figures.apparent_power_va,
                                               figures.voltage_rms_v, figures.current_rms_a));
  }
  if (figures.power_factor && figures.apparent_power_va > 0.0 &&
      apart(*figures.power_factor, figures.active_power_w / figures.apparent_power_va, 0.0, loose)) {
    at.refuse("power_factor", fmt::format("{} is not {} W over {} VA", *figures.power_factor, figures.active_power_w,
                                          figures.apparent_power_va));
  }
  if (figures.current_peak_a < figures.current_rms_a * (1.0 - loose) - 1e-9) {
    at.refuse("current_peak_a", "the peak is below the rms value");
  }
  if (figures.current_crest_factor && figures.current_rms_a > 0.0 &&
      apart(*figures.current_crest_factor, figures.current_peak_a / figures.current_rms_a, loose, 0.0)) {
    at.refuse("current_crest_factor",
              fmt::format("{} is not the peak, {} A, over {} A rms", *figures.current_crest_factor,
                          figures.current_peak_a, figures.current_rms_a));
  }
}

void check_supply(const Figures& figures, const Nominal& nominal, const Object& at) {
  if (figures.mains_frequency_hz && figures.direct) {
    at.refuse("mains_frequency_hz", "is there, but so is 'direct': it was mains or DC");
  }
  constexpr double slowest_hz = 10.0;
  if (figures.mains_frequency_hz && *figures.mains_frequency_hz < slowest_hz) {
    at.refuse("mains_frequency_hz", fmt::format("{} Hz are no mains", *figures.mains_frequency_hz));
  }
  // Cycles are looked for between 45 and 65 Hz, and near what the label says (docs/captures.md).
  const double label_hz = nominal.frequency_hz.value_or(50.0);
  const bool usual = figures.mains_frequency_hz && *figures.mains_frequency_hz > 40.0 &&
                     *figures.mains_frequency_hz < 70.0 && label_hz > 0.0;
  if (figures.mains_frequency_hz && !usual && apart(*figures.mains_frequency_hz, label_hz, 0.15, 0.0)) {
    at.refuse("mains_frequency_hz", nominal.frequency_hz
                                        ? fmt::format("{} Hz were measured, but label.nominal_frequency_hz is {}",
                                                      *figures.mains_frequency_hz, label_hz)
                                        : fmt::format("{} Hz are no mains", *figures.mains_frequency_hz));
  }
  constexpr double whole_deg = 179.0;
  if (figures.cut.edge == Edge::none && figures.cut.conduction_angle_deg < whole_deg) {
    at.refuse("cut.conduction_angle_deg",
              fmt::format("{} degrees conduct, but the edge is none", figures.cut.conduction_angle_deg));
  }
}

void check_turn_on(const Figures& figures, double interval_s, const Nominal& nominal, const Object& at) {
  if (figures.turn_on && figures.turn_on->sample >= figures.samples) {
    at.refuse("turn_on.sample", "is not within the capture");
  }
  if (!figures.inrush) return;
  if (!figures.turn_on) at.refuse("inrush", "is there, but no turn_on");
  const Inrush& inrush = *figures.inrush;
  if (std::abs(std::remainder(inrush.phase_deg - figures.turn_on->phase_deg, 360.0)) > 1.0) {
    at.refuse("inrush.phase_deg",
              fmt::format("{} degrees are not {}, those of the turn-on", inrush.phase_deg, figures.turn_on->phase_deg));
  }
  if (!figures.mains_frequency_hz) return;
  const double most = inrush.peak_a * inrush.peak_a * (0.5 / *figures.mains_frequency_hz + 3.0 * interval_s);
  if (inrush.i2t_a2s > most * (1.0 + loose) + 1e-15) {
    at.refuse("inrush.i2t_a2s",
              fmt::format("{} A2s are more than {} A can give in half a cycle", inrush.i2t_a2s, inrush.peak_a));
  }
  // Others may start late; what heats a wire draws its running current at once, and more where that is cold.
  const bool wire = nominal.technology && (*nominal.technology == "incandescent" || *nominal.technology == "heater");
  if (wire && figures.cut.edge == Edge::none && inrush.peak_a < 0.7 * figures.current_peak_a) {
    at.refuse("inrush.peak_a", fmt::format("{} A are below the running peak, {} A, which such a lamp draws at once",
                                           inrush.peak_a, figures.current_peak_a));
  }
}

}  // namespace

void check_figures(const StoredCapture& stored, const Nominal& nominal, const Object& at) {
  const Figures& figures = stored.figures;
  const double interval_s = stored.capture.sample_interval_s;
  check_sampling(figures, interval_s, at);
  check_power(figures, at);
  check_supply(figures, nominal, at);
  check_turn_on(figures, interval_s, nominal, at);
}

}  // namespace lampload
