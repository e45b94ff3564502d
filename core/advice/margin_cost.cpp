#include "core/advice/margin_cost.h"

#include <algorithm>
#include <cstddef>
#include <numeric>

namespace lampload {

// A margin cannot raise the count, so that only what is below the count without it is looked at; most constraints are
// far from binding there, and say so roughly.
MarginCost margin_cost(const Load& load, const CountSearch& search, const std::vector<Constraint>& constraints,
                       const std::vector<int>& counts, int with_spread, int central) {
  std::vector<std::size_t> order(constraints.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return counts[a] < counts[b]; });
  const auto count = [&](std::size_t lamps, int most) {
    Load less = load.with({}, lamps);
    CountSearch counted(less);
    counted.follow(search);
    for (const std::size_t i : order) {
      if (constraints[i].sets_least() || constraints[i].advice) continue;
      most = counted.count_between(constraints[i], with_spread, most);
    }
    return most;
  };
  MarginCost cost;
  cost.central = central;
  cost.with_spread = with_spread;
  cost.with_tolerance = count(1, central);
  cost.with_uncertainty = count(load.margins().lamps.size(), cost.with_tolerance);
  return cost;
}

}  // namespace lampload
