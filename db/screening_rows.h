#pragma once
// Rows of the table screening.

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "db/library.h"

namespace lampload::rows {

/// Takes the place of what the lamp type had; empty: it has none from now on. Throws Error{input_refused} where a
/// figure is not finite.
void store_screening(SQLite::Database& db, std::int64_t lamp_type, std::int64_t fit,
                     const std::optional<ScreeningFigures>& figures);

/// Of all lamp types, some thousand at a time, in the order of the file: each page is read once, and what a stretch
/// takes in memory serves the next one.
void screening(SQLite::Database& db, const std::function<void(const std::vector<LampScreening>&)>& take);

}  // namespace lampload::rows
