#pragma once
// What a lamp is to a channel, in the few figures that decide counts.

#include <array>
#include <string_view>
#include <vector>

#include "core/circuit/network.h"
#include "core/lamp/lamp.h"

namespace lampload {

inline constexpr std::array<std::string_view, 4> load_figure_names = {"continuous_current", "repetitive_peak",
                                                                      "surge_peak", "surge_i2t"};

/// Named by the constraints that they decide, on an ordinary supply (core/circuit/simulated_capture.h):
/// in the order of load_figure_names: "continuous_current" [A rms] uncut, "repetitive_peak" [A] with a leading edge at
/// 90 degrees, "surge_peak" [A] and "surge_i2t" switched on cold at the crest; of I2t the square root [A s^0.5], which
/// goes with the current. Empty at DC. Throws Error{calculation} where the circuit cannot be solved.
std::vector<DerivedFigure> load_figures(const Lamp& lamp, const OperatingPoint& at, const Accuracy& accuracy = {});

/// The first of them alone.
double running_current_a(const Lamp& lamp, const OperatingPoint& at, const Accuracy& accuracy = {});

}  // namespace lampload
