#pragma once
// A stored lamp as a file for ngspice: its subcircuit, and in comments what is known of it.

#include <string>

#include "db/library.h"

namespace lampload {

/// A subcircuit's name made of a lamp's: lower-case letters, digits and underscores.
std::string subcircuit_name(const std::string& lamp);

/// scattered: every use of the subcircuit draws a piece of its own, and every run what the captures leave open.
/// Throws Error{input_refused} where the record has no accepted fit.
std::string spice_text(const LampRecord& record, const std::string& subcircuit, bool scattered);

}  // namespace lampload
