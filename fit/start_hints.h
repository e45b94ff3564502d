#pragma once
// What the waveforms say before any fit: the hints that each family makes its start values from.

#include <span>

#include "core/capture/capture.h"
#include "core/lamp/one_port.h"
#include "core/waveform/figures.h"

namespace lampload {

/// captures and figures go together and are not empty.
StartHints start_hints(std::span<const Capture> captures, std::span<const Figures> figures, const Nominal& nominal);

/// The capture that shows the lamp with the least cut, running: where rated figures are read. Index into figures.
std::size_t least_cut(std::span<const Figures> figures);

}  // namespace lampload
