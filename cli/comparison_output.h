#pragma once
// What `compare` shows, to people and to other programs.

#include <string>
#include <vector>

#include "cli/terminal.h"
#include "db/library.h"

namespace lampload {

/// The answer, then every capture's figures and constraints, measured beside predicted.
void show_comparisons(Screen& screen, const std::string& lamp, const std::vector<StoredComparison>& comparisons,
                      bool stored);

/// One line each, for `show`: "12 on stair dimmer, trailing edge: as predicted (2024-02-29)".
std::string comparison_in_short(const StoredComparison& stored);

/// {"lamp","agrees","comparisons":[...]}
std::string comparison_json(const std::string& lamp, const std::vector<StoredComparison>& comparisons);

}  // namespace lampload
