#pragma once
// DC outputs: lamps side by side on a pulse-width dimmer, lamps in series on a constant-current driver.

#include <optional>
#include <string>
#include <vector>

#include "core/advice/constraint.h"
#include "core/advice/verdict.h"

namespace lampload {

/// Judges the DC mode of the channel by the steady characteristic of its lamps, fed all the time (full duty): the
/// resistances of cable and switch are left out, which is the safe side. What is known of the lamp's parameters counts
/// together: string voltage and resistance may be open while the current at the supply's voltage is known. Empty: the
/// channel does not say its DC voltage or its current, named in `missing`.
std::optional<JudgedMode> judge_direct(const LampEvidence& evidence, const Channel& channel, Mode mode,
                                       Missing& missing);

}  // namespace lampload
