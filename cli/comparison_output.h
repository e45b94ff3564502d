#pragma once
// What `compare` shows, to people and to other programs.

#include <string>
#include <vector>

#include "cli/stored_lamps.h"
#include "cli/terminal.h"
#include "db/library.h"

namespace lampload {

/// The answer for so many lamps of each kind, then every capture's figures and constraints, measured beside predicted.
void show_comparisons(Screen& screen, const std::vector<NamedLamps>& lamps,
                      const std::vector<StoredComparison>& comparisons, bool stored);

/// One line each, for `show`: "12 on stair dimmer, trailing edge: as predicted (2024-02-29)".
std::string comparison_in_short(const StoredComparison& stored);

/// {"lamp","lamps":[{"lamp","count"}],"agrees","comparisons":[...]}; lamp is null where there are several kinds.
std::string comparison_json(const std::vector<NamedLamps>& lamps, const std::vector<StoredComparison>& comparisons);

}  // namespace lampload
