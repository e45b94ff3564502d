#pragma once
// One half cycle that stands for all of them, and the mains sine behind a voltage that may be cut.

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "core/waveform/cycles.h"

namespace lampload {

/// All half cycles of the window laid over each other, every second one inverted (so offsets vanish): `points` values
/// over 180 degrees, beginning at the window's first sample.
std::vector<double> folded_half_cycle(std::span<const double> values, const CycleWindow& window, std::size_t points);

/// A number of points that keeps the record's resolution, 60 to 720.
std::size_t fold_points(const CycleWindow& window);

/// The supply's sine: v = amplitude * sin(phase), with the phase at the window's first sample.
struct MainsSine {
  double amplitude_v = 0.0;
  double phase_deg = 0.0;        ///< 0 to 360
  double following_share = 0.0;  ///< of the voltage (weighted by magnitude) that lies on it
  double spread_v = 0.0;         ///< rms distance of the points that follow
};

/// Found from the points that do follow a sine, whatever the others do. amplitude_hint_v narrows the search to 25 %.
/// Empty: the voltage is zero.
std::optional<MainsSine> fit_mains_sine(std::span<const double> half_cycle, std::optional<double> amplitude_hint_v);

/// The mains sine told by a switch that closes at its zero crossing, as a trailing-edge dimmer's does: the terminals
/// held the last half cycle's voltage, fall to zero at once, and rise along the sine. Empty: there is no such instant.
std::optional<MainsSine> sine_from_closing(std::span<const double> half_cycle);

/// A switch that closes with mains on it.
struct Firing {
  MainsSine sine;
  double at_deg = 0.0;  ///< phase of the half cycle, 0 to 180
};

/// The mains sine told by a switch that closes with mains on it, from the arc that the terminals follow before it opens
/// again: a leading-edge dimmer whose lamp is charged in one short pulse lets go long before the zero crossing. The
/// terminals jump from next to nothing, and the current's peak comes right behind. amplitude_hint_v serves where the
/// arc is too short to tell the amplitude. Empty: there is no such instant.
std::optional<Firing> sine_from_firing(std::span<const double> voltage_half_cycle,
                                       std::span<const double> current_half_cycle,
                                       std::optional<double> amplitude_hint_v);

}  // namespace lampload
