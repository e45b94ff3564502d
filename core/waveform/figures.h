#pragma once
// What is measured on a capture: the figures that `inspect` prints, and what the fit starts from.
// Power terms after IEEE 1459-2010; see docs/captures.md for every definition.

#include <cstddef>
#include <optional>
#include <vector>

#include "core/capture/capture.h"

namespace lampload {

enum class Edge { none, leading, trailing };

/// The cut that a phase dimmer makes in every half cycle.
struct Cut {
  Edge edge = Edge::none;
  double conduction_angle_deg = 180.0;  ///< of a half cycle, 0 to 180
  /// The current is cut while the measured voltage stays a sine: the voltage was taken on the supply side of the
  /// dimmer.
  bool supply_side_voltage = false;
};

/// The moment the lamp is connected, in a capture that begins before it.
struct TurnOn {
  std::size_t sample = 0;            ///< first sample at or after the closing of the switch
  double phase_deg = 0.0;            ///< of the mains voltage, 0 to 360, rising zero crossing = 0
  bool supply_side_voltage = false;  ///< the voltage was there before: it was measured ahead of the switch
};

/// The first surge after turn-on.
struct Inrush {
  double peak_a = 0.0;
  double i2t_a2s = 0.0;  ///< of the first half cycle after turn-on
  double width_s = 0.0;  ///< time at or above half of the peak
  double phase_deg = 0.0;
};

/// What a pulse-width dimmer does.
struct Pulses {
  double frequency_hz = 0.0;
  double duty = 0.0;  ///< share of the time, 0 to 1, between the half heights
};

/// What DC has instead of mains cycles.
struct Direct {
  double voltage_mean_v = 0.0;
  double current_mean_a = 0.0;
  double on_voltage_v = 0.0;  ///< mean while the lamp is fed: of a pulse's later half, or of everything
  double on_current_a = 0.0;
  std::optional<double> voltage_ripple_percent;  ///< peak to peak over the mean; empty where pulses switch it
  std::optional<double> current_ripple_percent;
  std::optional<Pulses> pulses;  ///< empty: not switched
};

/// All figures of one capture. Steady figures are taken over whole mains cycles (after turn-on has settled, if there is
/// one); what has no meaning for the capture is empty (mains_frequency_hz for DC, power_factor without current).
struct Figures {
  std::size_t samples = 0;
  double sample_rate_hz = 0.0;
  double duration_s = 0.0;
  std::optional<double> mains_frequency_hz;
  double voltage_rms_v = 0.0;
  double current_rms_a = 0.0;   ///< current offset removed
  double current_peak_a = 0.0;  ///< largest magnitude in the steady cycles
  double active_power_w = 0.0;
  double apparent_power_va = 0.0;
  std::optional<double> power_factor;
  std::optional<double> displacement_factor;
  std::optional<double> current_crest_factor;
  std::optional<double> current_thd_percent;
  Cut cut;
  std::optional<Direct> direct;  ///< of a DC capture
  std::optional<TurnOn> turn_on;
  std::optional<Inrush> inrush;
  double current_offset_a = 0.0;  ///< that was found and removed for these figures (the capture keeps it)
  std::size_t steady_first = 0;   ///< the samples [steady_first, steady_last) hold whole steady cycles
  std::size_t steady_last = 0;
  double steady_phase_deg = 0.0;     ///< of the mains voltage at steady_first
  std::vector<QualityNote> quality;  ///< the capture's own notes first, then what the figures show
};

/// Measures everything above. Throws Error{input_refused} where a capture has no usable mains cycle nor steady or
/// regularly switched DC.
Figures measure(const Capture& capture, const Nominal& nominal = {});

/// Orders captures of one lamp by how well they show it at full power, settled: by the conduction angle, where a
/// turn-on counts as cut by five degrees more, since its record settles last of all. Rated figures are read from the
/// last one.
[[nodiscard]] bool less_open(const Figures& a, const Figures& b);

}  // namespace lampload
