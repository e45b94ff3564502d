#pragma once
// Rows of the tables comparisons and comparison_values.

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <vector>

#include "db/library.h"

namespace lampload::rows {

/// Adds it; the same capture compared again in the same way, with the same fit, takes the place of what was there.
/// Throws Error{input_refused} where a value is not finite.
void store_comparison(SQLite::Database& db, std::int64_t lamp_type, std::int64_t fit, const StoredComparison& stored);

/// In the order they were stored.
std::vector<StoredComparison> comparisons_of(SQLite::Database& db, std::int64_t lamp_type);

}  // namespace lampload::rows
