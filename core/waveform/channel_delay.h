#pragma once
// Time error between the two channels, where a capture shows it by itself.

#include <optional>
#include <span>

#include "core/waveform/cycles.h"

namespace lampload {

/// How much earlier than the voltage edges that drive it the current rises, in seconds (> 0, up to a quarter cycle), on
/// a leading-edge cut: the median over the edges of the window at which the current jumps. No lamp does that, so the
/// channels are skewed. Empty where the current does not clearly come first, or where fewer than four edges show it.
std::optional<double> early_current_s(std::span<const double> voltage_v, std::span<const double> current_a,
                                      double interval_s, const CycleWindow& window);

/// How much later than those edges the current begins to rise (> 0). An inductance or a slow clamp makes it rise
/// slowly, not begin late: the beginning is where the line through 10 and 50 % of the rise meets zero. Empty as above.
std::optional<double> late_current_s(std::span<const double> voltage_v, std::span<const double> current_a,
                                     double interval_s, const CycleWindow& window);

/// How much later the current has the shape of a cut voltage (negative: earlier), 40 us to a quarter cycle. Empty: it
/// has another shape, or has it at once, or rises with a time constant.
std::optional<double> cut_resistance_late_s(std::span<const double> voltage_v, std::span<const double> current_a,
                                            double interval_s, const CycleWindow& window);

/// Current that has the voltage's shape, a harmonic distortion as small as the voltage's and a power factor near one,
/// but does not cross zero with it.
struct ResistiveSkew {
  double lead_deg = 0.0;  ///< of the fundamental: current ahead of the voltage
  double lead_s = 0.0;
  enum class Cause {
    delay,        ///< the harmonics are moved by the same time
    low_cut,      ///< the harmonics are hardly moved: a current channel that passes no DC
    capacitance,  ///< the harmonics of the current are larger than the voltage's: the lamp's own
    open,         ///< the harmonics agree with none of them
  };
  Cause cause = Cause::open;
};

/// Empty: the current is no such, the angle is below one degree, or the voltage has no harmonics to tell causes apart
/// by: a driver with a capacitor then looks the same.
std::optional<ResistiveSkew> resistive_skew(std::span<const double> voltage_v, std::span<const double> current_a,
                                            double frequency_hz, const CycleWindow& window);

}  // namespace lampload
