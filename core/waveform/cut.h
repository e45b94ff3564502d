#pragma once
// Phase cut: which edge, and how much of each half cycle is left.

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "core/waveform/figures.h"
#include "core/waveform/mains_sine.h"

namespace lampload {

/// What the cut was judged by.
struct CutFinding {
  Cut cut;
  std::optional<MainsSine> sine;  ///< empty: the voltage shows no mains sine
};

/// voltage and current over whole steady cycles. amplitude_hint_v: peak of the nominal voltage, if known.
CutFinding find_cut(std::span<const double> voltage_v, std::span<const double> current_a, const CycleWindow& window,
                    std::optional<double> amplitude_hint_v);

/// Samples at which the terminal voltage jumps by more than its noise and its usual slope: firing and cut instants,
/// closing of a switch. Each jump is one sample, the first after it.
std::vector<std::size_t> voltage_jumps(std::span<const double> voltage_v, double interval_s);

}  // namespace lampload
