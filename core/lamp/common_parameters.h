#pragma once
// Parameters that several families have, told in one way.

#include "core/lamp/one_port.h"

namespace lampload::common {

inline constexpr ParameterSpec rectifier_drop = {
    .name = "rectifier_drop_v",
    .unit = "V",
    .meaning = "voltage lost in the bridge, two junctions",
    .lower = 0.0,
    .upper = 4.0,
    .logarithmic = false,
    .scale = 1.6,
    // 0.7 to 1.0 V a junction at rated current, 0.5 V at a small one (from memory).
    .prior_sd = 0.25};

inline constexpr ParameterSpec input_capacitance = {.name = "input_capacitance_f",
                                                    .unit = "F",
                                                    .meaning = "capacitance across the terminals",
                                                    .lower = 1e-10,
                                                    .upper = 1e-5,
                                                    .optional = true,
                                                    .identified_by = "trailing_edge"};

constexpr ParameterSpec reservoir_capacitance(std::string_view identified_by) {
  return {.name = "reservoir_capacitance_f",
          .unit = "F",
          .meaning = "reservoir capacitance",
          .lower = 1e-8,
          .upper = 2e-2,
          .identified_by = identified_by};
}

}  // namespace lampload::common
