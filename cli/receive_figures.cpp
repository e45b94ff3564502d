#include "cli/receive_figures.h"

#include <fmt/format.h>

#include <cmath>

#include "core/waveform/figures.h"
#include "db/lamp_file_checks.h"

namespace lampload {
namespace {

constexpr Tolerance measured_again = {1e-3, measured_again_share};
constexpr double any_share = 1e-3;  // with a floor of its own: of factors and angles, whose zero is arbitrary
constexpr double factor_floor = 0.02;
constexpr double percent_floor = 2.0;
constexpr double angle_floor_deg = 2.0;

/// One capture's figures, stated and found.
class MeasuredAgain {
 public:
  MeasuredAgain(Differences& differences, std::size_t place, const std::string& file)
      : differences_(differences), key_(fmt::format("captures[{}].figures.", place)), of_(" of " + file) {}

  void number(const char* key, const char* what, double stated, double found, const char* unit, double floor) {
    differences_.compare(key_ + key, what + of_, stated, found, unit, measured_again, floor);
  }
  /// Anything beyond the floor is refused.
  void close(const char* key, const char* what, double stated, double found, const char* unit, double floor) {
    differences_.compare(key_ + key, what + of_, stated, found, unit, {any_share, any_share}, floor);
  }
  void angle(const char* key, const char* what, double stated, double found) {
    close(key, what, found + std::remainder(stated - found, 360.0), found, "deg", angle_floor_deg);
  }
  void close(const char* key, const char* what, const std::optional<double>& stated, const std::optional<double>& found,
             const char* unit, double floor) {
    same(key, what, stated.has_value(), found.has_value());
    if (stated) close(key, what, *stated, *found, unit, floor);
  }
  void number(const char* key, const char* what, const std::optional<double>& stated,
              const std::optional<double>& found, const char* unit, double floor) {
    same(key, what, stated.has_value(), found.has_value());
    if (stated) number(key, what, *stated, *found, unit, floor);
  }
  /// Is it there, or true, in both?
  void same(const char* key, const char* what, bool stated, bool found) {
    if (stated != found) said(key, what, stated ? "there" : "not there", found ? "there" : "not there");
  }
  void said(const char* key, const char* what, const std::string& stated, const std::string& found) {
    if (stated != found) differences_.refuse(key_ + key, what + of_, stated, found);
  }

 private:
  Differences& differences_;
  std::string key_;
  std::string of_;
};

const char* edge_name(Edge edge) {
  return edge == Edge::leading ? "leading" : edge == Edge::trailing ? "trailing" : "none";
}

void compare_power(MeasuredAgain& again, const Figures& stated, const Figures& found) {
  again.number("voltage_rms_v", "voltage", stated.voltage_rms_v, found.voltage_rms_v, "V", 1e-6);
  again.number("current_rms_a", "current", stated.current_rms_a, found.current_rms_a, "A", 1e-6);
  again.number("current_peak_a", "peak current", stated.current_peak_a, found.current_peak_a, "A", 1e-6);
  again.number("active_power_w", "power", stated.active_power_w, found.active_power_w, "W",
               1e-4 + 0.005 * found.apparent_power_va);
  again.number("apparent_power_va", "apparent power", stated.apparent_power_va, found.apparent_power_va, "VA", 1e-4);
  again.close("power_factor", "power factor", stated.power_factor, found.power_factor, "", factor_floor);
  again.close("displacement_factor", "displacement factor", stated.displacement_factor, found.displacement_factor, "",
              factor_floor);
  again.number("current_crest_factor", "crest factor", stated.current_crest_factor, found.current_crest_factor, "",
               0.01);
  again.close("current_thd_percent", "harmonic distortion", stated.current_thd_percent, found.current_thd_percent, "%",
              percent_floor + 0.02 * found.current_thd_percent.value_or(0.0));
  again.close("current_offset_a", "current offset", stated.current_offset_a, found.current_offset_a, "A",
              0.02 * found.current_peak_a + 1e-6);
}

void compare_direct(MeasuredAgain& again, const Direct& stated, const Direct& found) {
  again.number("direct.voltage_mean_v", "mean voltage", stated.voltage_mean_v, found.voltage_mean_v, "V", 1e-6);
  again.number("direct.current_mean_a", "mean current", stated.current_mean_a, found.current_mean_a, "A", 1e-6);
  again.number("direct.on_voltage_v", "voltage while on", stated.on_voltage_v, found.on_voltage_v, "V", 1e-6);
  again.number("direct.on_current_a", "current while on", stated.on_current_a, found.on_current_a, "A", 1e-6);
  again.close("direct.voltage_ripple_percent", "voltage ripple", stated.voltage_ripple_percent,
              found.voltage_ripple_percent, "%", percent_floor);
  again.close("direct.current_ripple_percent", "current ripple", stated.current_ripple_percent,
              found.current_ripple_percent, "%", percent_floor);
  again.same("direct.pulse_frequency_hz", "pulsing", stated.pulses.has_value(), found.pulses.has_value());
  if (!stated.pulses || !found.pulses) return;
  again.number("direct.pulse_frequency_hz", "pulse frequency", stated.pulses->frequency_hz, found.pulses->frequency_hz,
               "Hz", 1e-6);
  again.close("direct.duty", "duty", stated.pulses->duty, found.pulses->duty, "", factor_floor);
}

void compare_turn_on(MeasuredAgain& again, const Figures& stated, const Figures& found) {
  again.same("turn_on", "the turn-on", stated.turn_on.has_value(), found.turn_on.has_value());
  again.same("inrush", "the inrush", stated.inrush.has_value(), found.inrush.has_value());
  const double interval_s = 1.0 / found.sample_rate_hz;
  if (stated.turn_on && found.turn_on) {
    again.close("turn_on.sample", "the turn-on's place", static_cast<double>(stated.turn_on->sample),
                static_cast<double>(found.turn_on->sample), "samples", 2.0 + 100e-6 / interval_s);
    again.angle("turn_on.phase_deg", "the turn-on's phase", stated.turn_on->phase_deg, found.turn_on->phase_deg);
    again.same("turn_on.supply_side_voltage", "voltage ahead of the switch", stated.turn_on->supply_side_voltage,
               found.turn_on->supply_side_voltage);
  }
  if (!stated.inrush || !found.inrush) return;
  again.number("inrush.peak_a", "inrush peak", stated.inrush->peak_a, found.inrush->peak_a, "A", 1e-6);
  again.number("inrush.i2t_a2s", "inrush I2t", stated.inrush->i2t_a2s, found.inrush->i2t_a2s, "A2s", 1e-12);
  again.number("inrush.width_s", "inrush width", stated.inrush->width_s, found.inrush->width_s, "s", interval_s);
  again.angle("inrush.phase_deg", "the inrush's phase", stated.inrush->phase_deg, found.inrush->phase_deg);
}

void compare_figures(MeasuredAgain& again, const Figures& stated, const Figures& found) {
  const double cycle = found.sample_rate_hz / found.mains_frequency_hz.value_or(1000.0);
  again.number("sample_rate_hz", "sample rate", stated.sample_rate_hz, found.sample_rate_hz, "Hz", 1e-9);
  again.number("duration_s", "duration", stated.duration_s, found.duration_s, "s", 1e-15);
  again.number("mains_frequency_hz", "mains frequency", stated.mains_frequency_hz, found.mains_frequency_hz, "Hz",
               1e-3);
  compare_power(again, stated, found);
  again.said("cut.edge", "the cut", edge_name(stated.cut.edge), edge_name(found.cut.edge));
  again.close("cut.conduction_angle_deg", "conduction angle", stated.cut.conduction_angle_deg,
              found.cut.conduction_angle_deg, "deg", angle_floor_deg);
  again.same("cut.supply_side_voltage", "voltage ahead of the dimmer", stated.cut.supply_side_voltage,
             found.cut.supply_side_voltage);
  again.same("direct", "DC", stated.direct.has_value(), found.direct.has_value());
  if (stated.direct && found.direct) compare_direct(again, *stated.direct, *found.direct);
  compare_turn_on(again, stated, found);
  again.close("steady_first", "begin of the steady cycles", static_cast<double>(stated.steady_first),
              static_cast<double>(found.steady_first), "samples", cycle);
  again.close("steady_last", "end of the steady cycles", static_cast<double>(stated.steady_last),
              static_cast<double>(found.steady_last), "samples", cycle);
  // Only together with where the steady cycles begin.
  if (found.mains_frequency_hz && stated.steady_first == found.steady_first) {
    again.angle("steady_phase_deg", "phase of the mains", stated.steady_phase_deg, found.steady_phase_deg);
  }
}

}  // namespace

void check_measured(const LampRecord& lamp, Differences& differences) {
  for (std::size_t i = 0; i < lamp.captures.size(); ++i) {
    const StoredCapture& stored = lamp.captures[i];
    if (stored.capture.voltage_v.empty()) continue;
    MeasuredAgain again(differences, i, stored.capture.file);
    compare_figures(again, stored.figures, measure(stored.capture, lamp.nominal));
  }
}

}  // namespace lampload
