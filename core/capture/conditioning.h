#pragma once
// From the file's values to volts and amperes of the lamp.

#include <cstdint>
#include <span>
#include <vector>

#include "core/capture/capture.h"

namespace lampload {

/// Applies scales, offsets, inversion and delay, turns a reversed clamp, finds digitiser steps and clipped samples;
/// says in capture.notes what it did. Throws Error{input_refused} where nothing usable is left.
void condition(Capture& capture, const CaptureOptions& options);

/// The digitiser's step: the largest value of which nearly all level differences are multiples. 0: none is seen.
double digitiser_step(std::span<const double> values);

/// Marks runs at the end of the range that a smooth crest of the waveform would not make. bit goes into `marks` (made
/// on first use). Returns the number of samples marked.
std::size_t mark_clipped(std::span<const double> values, double step, std::uint8_t bit,
                         std::vector<std::uint8_t>& marks);

}  // namespace lampload
