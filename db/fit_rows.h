#pragma once
// Rows of the tables fits, fit_spreads, fit_rivals and fit_captures.

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <optional>
#include <span>
#include <string>

#include "db/library.h"

namespace lampload::rows {

/// Adds a fit, those of its samples, and what each was made from. Throws Error{input_refused} where a figure is not
/// finite or a capture belongs to another lamp type. Returns the row of the lamp type's fit.
std::int64_t store_fit(SQLite::Database& db, std::int64_t lamp_type, const StoredFit& fit);

/// Throws Error{input_refused} where one has no name, a figure that is not finite, or an uncertainty or an interval
/// less than nothing.
void require_sound(std::span<const StoredEstimate> estimates);

/// Whether a text can be the report of a fit: JSON, or nothing.
bool is_report(SQLite::Database& db, const std::string& text);

/// The lamp type's fit that was stored last, with those of its samples.
std::optional<StoredFit> newest_fit(SQLite::Database& db, std::int64_t lamp_type);

}  // namespace lampload::rows
