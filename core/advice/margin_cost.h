#pragma once
// What each margin costs of the count: from the count with central values to the one that is recommended.

#include <vector>

#include "core/advice/constraint.h"
#include "core/advice/count_search.h"

namespace lampload {

/// Of one mode of a mains channel. load, search: with all margins, as the mode was judged; counts: of each constraint
/// by them. with_spread, central: the mode's counts with all margins and with none. Throws Error{calculation} where a
/// simulation fails.
MarginCost margin_cost(const Load& load, const CountSearch& search, const std::vector<Constraint>& constraints,
                       const std::vector<int>& counts, int with_spread, int central);

}  // namespace lampload
