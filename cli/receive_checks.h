#pragma once
// Whether what a lamp model file says of a lamp agrees with itself: its stored figures with its circuit, and both with
// the captures that it carries.

#include <string>
#include <vector>

#include "cli/sharing_output.h"
#include "cli/terminal.h"

namespace lampload {

/// Simulates the circuit at the conditions of each capture that it was fitted from, works out the derived figures
/// again, measures and (refit) fits again what captures are inside. Differences beyond what versions of the program
/// and rounding explain are returned. Throws Error{input_refused} where they are so large that the file contradicts
/// itself. `place` is that of the record in its file, such as lamps[0].
std::vector<Difference> check_against_itself(const SharedLamp& lamp, const std::string& place, bool refit,
                                             Telling telling);

/// The supply that the fit's derived figures are stated at.
OperatingPoint operating_point(const LampRecord& lamp);

}  // namespace lampload
