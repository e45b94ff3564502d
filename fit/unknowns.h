#pragma once
// The unknowns of one fit and what is known of them beforehand.

#include <span>
#include <vector>

#include "core/lamp/one_port.h"
#include "fit/lamp_residuals.h"

namespace lampload {

/// In order: lamp parameters, bandwidth, then offset, delay and states of each capture. usual: knowledge of parameters
/// that takes the place of what their table says.
std::vector<Unknown> unknowns_of(std::span<const ParameterSpec> parameters, std::span<const StateSpec> states,
                                 const std::vector<UsualValue>& usual, const std::vector<DrivenCapture>& drives);

}  // namespace lampload
