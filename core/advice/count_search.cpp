#include "core/advice/count_search.h"

#include <algorithm>
#include <cmath>

namespace lampload {

bool CountSearch::worse(const Constraint& constraint, double a, double b) const {
  return constraint.minimum ? a < b : a > b;
}

const std::vector<double>& CountSearch::settings(const Constraint& constraint) const {
  return constraint.of_turn_on ? load_.phases_deg() : load_.angles_deg();
}

// The grid with the central lamp first, then halved steps around the worst point, then the unfavourable lamps there.
const std::vector<Situation>& CountSearch::situations(const Constraint& constraint) {
  std::vector<Situation>& known = situations_[constraint.name + constraint.quantity];
  if (!known.empty()) return known;
  Worst worst;
  bool first = true;
  const auto look = [&](const Situation& at) {
    const double value = load_.value(constraint, 1, at);
    if (first || worse(constraint, value, worst.value)) worst = {value, at};
    first = false;
  };
  const std::vector<double>& all = settings(constraint);
  for (std::size_t supply = 0; supply < load_.margins().supplies_v.size(); ++supply) {
    for (const double setting : all) look({supply, 0, setting});
  }
  if (all.size() > 1) {
    double step = all[1] - all[0];
    for (int halving = 0; halving < 2; ++halving) {
      step *= 0.5;
      const Situation centre = worst.at;
      for (const double side : {-step, step}) {
        const double setting = centre.setting_deg + side;
        if (setting >= all.front() && setting <= all.back()) look({centre.supply, 0, setting});
      }
    }
  }
  const Situation centre = worst.at;
  for (std::size_t lamp = 1; lamp < load_.margins().lamps.size(); ++lamp) {
    look({centre.supply, lamp, centre.setting_deg});
  }
  known = {worst.at};
  return known;
}

Worst CountSearch::worst(const Constraint& constraint, int count) {
  Worst result;
  bool first = true;
  for (const Situation& at : situations(constraint)) {
    const double value = load_.value(constraint, count, at);
    if (first || worse(constraint, value, result.value)) result = {value, at};
    first = false;
  }
  return result;
}

// Values grow with the count; where source and cable matter they grow less than in proportion. Guesses run along a
// straight line on logarithmic axes through what is known, and fall back to halving.
int CountSearch::count(const Constraint& constraint) {
  const auto above = [&](double value) {
    return constraint.minimum ? value >= constraint.limit : value > constraint.limit;
  };
  double low_value = worst(constraint, 1).value;
  if (above(low_value)) return constraint.minimum ? 1 : 0;
  int low = 1;
  int high = most_lamps + 1;
  double high_value = 0.0;  // 0: not looked at
  double exponent = 1.0;
  for (int turn = 0; high - low > 1; ++turn) {
    double guess = 0.5 * (low + high);
    if (turn % 4 != 3 && low_value > 0.0 && constraint.limit > low_value) {
      if (high_value > low_value) {
        exponent = std::log(high_value / low_value) / std::log(static_cast<double>(high) / low);
      }
      guess = low * std::pow(constraint.limit / low_value, 1.0 / std::max(exponent, 0.05));
    } else if (high_value == 0.0) {
      guess = std::sqrt(static_cast<double>(low) * high);
    }
    const int probe = static_cast<int>(std::clamp(guess, low + 1.0, high - 1.0));
    const double value = worst(constraint, probe).value;
    if (above(value)) {
      high = probe;
      high_value = value;
    } else {
      if (low_value > 0.0 && value > low_value) {
        exponent = std::log(value / low_value) / std::log(static_cast<double>(probe) / low);
      }
      low = probe;
      low_value = value;
    }
  }
  return constraint.minimum ? high : std::min(low, most_lamps);
}

int CountSearch::verify(const Constraint& constraint, int count) {
  const int looked_at = std::clamp(count, 1, most_lamps);
  const Worst expected = worst(constraint, looked_at);
  Worst found = expected;
  for (std::size_t supply = 0; supply < load_.margins().supplies_v.size(); ++supply) {
    for (const double setting : settings(constraint)) {
      const Situation at{supply, expected.at.lamp, setting};
      const double value = load_.value(constraint, looked_at, at);
      if (worse(constraint, value, found.value)) found = {value, at};
    }
  }
  if (found.at == expected.at) return count;
  situations_[constraint.name + constraint.quantity].push_back(found.at);
  return this->count(constraint);
}

}  // namespace lampload
