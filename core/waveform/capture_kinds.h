#pragma once
// Which kinds of capture a set of figures comes from, in the words of ParameterSpec::identified_by.

#include <set>
#include <span>
#include <string_view>

#include "core/waveform/figures.h"

namespace lampload {

/// Of "steady", "turn_on", "leading_edge", "trailing_edge", "pulse_width": those that are among the captures.
std::set<std::string_view> capture_kinds(std::span<const Figures> figures);

}  // namespace lampload
