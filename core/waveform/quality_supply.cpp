// The supply, as the voltage channel has it.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

#include "core/waveform/quality_notes.h"

namespace lampload {
namespace {

double bare_voltage(const QualityInput& in) {
  if (in.figures.direct) return in.figures.direct->on_voltage_v;
  return in.sine ? in.sine->amplitude_v / std::numbers::sqrt2 : in.figures.voltage_rms_v;
}

double crest_v(const QualityInput& in) {
  double crest = 0.0;
  for (std::size_t k = in.figures.steady_first; k < in.figures.steady_last; ++k)
    crest = std::max(crest, std::abs(in.capture.voltage_v[k]));
  return crest;
}

bool plausible(const QualityInput& in, double volts) {
  if (in.nominal.voltage_v) return std::abs(volts / *in.nominal.voltage_v - 1.0) <= 0.2;
  return volts >= 85.0 && volts <= 290.0;
}

/// What is left of a sine tells its amplitude less well, and an inductance adds peaks of its own: too high is only what
/// already its rms value is, too low only what neither the sine nor the crest reaches.
bool cut_is_implausible(const QualityInput& in, double sine_rms_v) {
  const double expected = in.nominal.voltage_v.value_or(230.0);
  if (sine_rms_v > expected) return !plausible(in, in.power.voltage_rms_v) && in.power.voltage_rms_v > expected;
  return !plausible(in, crest_v(in) / std::numbers::sqrt2);
}

/// The current channel shows a supply's voltage, and the voltage channel none.
bool channels_swapped(const QualityInput& in, double volts) {
  if (plausible(in, volts)) return false;
  if (in.figures.direct) return in.nominal.voltage_v && plausible(in, in.figures.direct->on_current_a);
  return plausible(in, in.power.current_rms_a) && volts < 0.5 * in.power.current_rms_a;
}

std::string advice(const QualityInput& in, double volts) {
  for (const double factor : {10.0, 100.0, 1000.0, 0.1, 0.01, 0.001}) {
    if (!plausible(in, volts * factor)) continue;
    const char* cause = factor == 0.001  ? "as if millivolts had been taken for volts: check the unit"
                        : factor == 1000 ? "as if volts had been taken for millivolts: check the unit"
                        : factor > 1.0   ? "as if the probe's division were not counted: check the probe factor"
                                         : "as if the probe's division were counted twice: check the probe factor";
    return fmt::format("It looks {}, or give --voltage-scale {:g}.", cause, factor);
  }
  return "Check the probe factor and the column.";
}

}  // namespace

void note_voltage_level(const QualityInput& in, Notes& notes) {
  const double volts = bare_voltage(in);
  if ((!in.alternating && !in.nominal.voltage_v) || plausible(in, volts)) return;
  if (in.figures.cut.edge != Edge::none && !cut_is_implausible(in, volts)) return;
  if (channels_swapped(in, volts)) {
    notes.push_back({"channels_swapped",
                     Severity::error,
                     fmt::format("The voltage channel shows {:.3g} V and the current channel {:.4g} A, the size of a "
                                 "supply's voltage: the two are swapped. Exchange --voltage-column and "
                                 "--current-column.",
                                 volts, in.power.current_rms_a),
                     {{"voltage_v", volts}, {"current_a", in.power.current_rms_a}}});
    return;
  }
  const std::string expected = in.nominal.voltage_v ? fmt::format("the nominal {:.4g} V", *in.nominal.voltage_v)
                                                    : std::string("any mains (100 to 240 V)");
  const char* otherwise = in.nominal.voltage_v ? "" : " If the supply is right as it reads, give --nominal-voltage.";
  notes.push_back({"voltage_implausible",
                   Severity::warning,
                   fmt::format("The supply seems to be {:.4g} V{}, far from {}. {}{}", volts,
                               in.alternating ? " rms" : "", expected, advice(in, volts), otherwise),
                   {{"voltage_v", volts}}});
}

void note_frequency(const QualityInput& in, Notes& notes) {
  if (!in.figures.mains_frequency_hz) return;
  const double found = *in.figures.mains_frequency_hz;
  const double expected = in.nominal.frequency_hz && *in.nominal.frequency_hz > 0.0 ? *in.nominal.frequency_hz
                          : found < 55.0                                            ? 50.0
                                                                                    : 60.0;
  if (std::abs(found / expected - 1.0) <= 0.01) return;
  notes.push_back(
      {"mains_frequency",
       Severity::warning,
       fmt::format("The mains frequency reads {:.2f} Hz instead of {:g} Hz. Check the time column, its unit and the "
                   "sample interval.",
                   found, expected),
       {{"frequency_hz", found}}});
}

void note_voltage_shape(const QualityInput& in, Notes& notes) {
  constexpr double hardly_any = 0.3;
  const double share = in.sine ? in.sine->following_share : 0.0;
  if (!in.alternating || share >= hardly_any) return;
  notes.push_back(
      {"voltage_not_sine",
       Severity::warning,
       fmt::format("Only {:.0f} % of the voltage lies on a mains sine, so the cut could not be judged. Give "
                   "--nominal-voltage, or check the supply and the voltage probe.",
                   100.0 * share),
       {{"share", share}}});
}

void note_supply_side(const QualityInput& in, Notes& notes) {
  if (!in.figures.cut.supply_side_voltage) return;
  const double angle = in.figures.cut.conduction_angle_deg;
  const std::string seen = in.figures.direct
                               ? std::string("The current is switched while the voltage stays")
                               : fmt::format(
                                     "The current is cut to {:.0f} degrees of each half cycle while the voltage stays "
                                     "a sine",
                                     angle);
  notes.push_back({"supply_side_voltage",
                   Severity::note,
                   seen + ": the voltage was measured on the supply side of the dimmer, not on the lamp. Power factor "
                          "is that of dimmer and lamp together; move the probe to the lamp's terminals for the next "
                          "capture.",
                   {{"conduction_angle_deg", angle}}});
}

}  // namespace lampload
