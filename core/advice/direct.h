#pragma once
// DC outputs: lamps side by side on a pulse-width dimmer, lamps in series on a constant-current driver.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/advice/constraint.h"
#include "core/advice/load_check.h"
#include "core/advice/verdict.h"

namespace lampload {

/// Judges the DC mode of the channel by the steady characteristic of its lamps, fed all the time (full duty): the
/// resistances of cable and switch are left out, which is the safe side. What is known of the lamp's parameters counts
/// together: string voltage and resistance may be open while the current at the supply's voltage is known. Empty: the
/// channel does not say its DC voltage or its current, named in `missing`.
std::optional<JudgedMode> judge_direct(const LampEvidence& evidence, const Channel& channel, Mode mode,
                                       Missing& missing);

/// The same for a given load of lamps of several types: their currents side by side add up, or their voltages in
/// series. Every item has a family. Adds constraints and demand to `check`.
void check_direct(std::span<const LoadItem> load, const Channel& channel, LoadCheck& check);

}  // namespace lampload
