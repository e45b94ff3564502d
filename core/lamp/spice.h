#pragma once
// The lamps as subcircuits for ngspice.
//
// Each family's circuit (spice.cpp) is that of its page in docs/models, between the terminals `a` and `b`. Values stand
// in it by the names of the parameter table in braces, so that whoever uses the subcircuit may set or scatter them.
// Nodes that stand for something other than a voltage (a temperature, a flux linkage) lie against ground.

#include <string>
#include <string_view>

#include "core/lamp/lamp.h"

namespace lampload::spice {

/// ".subckt NAME a b ... .ends". parameters: the rest of its first line, such as fixed_parameters(); inside: lines of
/// its own ahead of the elements, such as .param. Every name of the family's table has to be defined by the two.
std::string subcircuit(const Lamp& lamp, std::string_view name, std::string_view parameters,
                       std::string_view inside = {});

/// "NAME=VALUE" for each parameter, each on a line that continues the one before.
std::string fixed_parameters(const Lamp& lamp);

}  // namespace lampload::spice
