#pragma once
// Every family's circuit as an ngspice subcircuit, written from docs/models.

#include <span>
#include <string>

#include "core/lamp/lamp.h"

namespace lampload::test {

/// ".subckt NAME in ... .ends" between its node `in` and ground, one lamp. state: what it starts from, in the order of
/// the family's states; from rest where empty.
std::string lamp_subcircuit(const std::string& name, const Lamp& lamp, std::span<const double> state);

}  // namespace lampload::test
