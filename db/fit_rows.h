#pragma once
// Rows of the tables fits, fit_estimates, fit_rivals and fit_captures.

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <optional>
#include <span>

#include "db/library.h"

namespace lampload::rows {

/// Adds a fit and what it was made from. Throws Error{input_refused} where a figure is not finite or a capture belongs
/// to another lamp type.
void store_fit(SQLite::Database& db, std::int64_t lamp_type, const StoredFit& fit,
               std::span<const std::int64_t> capture_ids);

/// The fit that was stored last.
std::optional<StoredFit> newest_fit(SQLite::Database& db, std::int64_t lamp_type);

}  // namespace lampload::rows
