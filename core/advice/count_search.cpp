#include "core/advice/count_search.h"

#include <algorithm>
#include <cmath>

namespace lampload {

bool CountSearch::worse(const Constraint& constraint, double a, double b) const {
  return constraint.minimum ? a < b : a > b;
}

const std::vector<double>& CountSearch::settings(const Constraint& constraint) const {
  if (!constraint.at_deg.empty()) return constraint.at_deg;
  return constraint.of_turn_on ? load_.phases_deg() : load_.angles_deg();
}

// At each supply the grid, then halved steps around its worst point.
const std::vector<double>& CountSearch::worst_settings(const Constraint& constraint) {
  std::vector<double>& known = worst_settings_[constraint.name + constraint.quantity];
  if (!known.empty()) return known;
  const std::vector<double>& all = settings(constraint);
  for (std::size_t supply = 0; supply < load_.margins().supplies_v.size(); ++supply) {
    double worst_setting = all.front();
    double worst_value = load_.value(constraint, 1, {supply, 0, worst_setting}, true);
    const auto look = [&](double setting) {
      const double value = load_.value(constraint, 1, {supply, 0, setting}, true);
      if (!worse(constraint, value, worst_value)) return;
      worst_value = value;
      worst_setting = setting;
    };
    for (const double setting : all) look(setting);
    double step = all.size() > 1 ? all[1] - all[0] : 0.0;
    for (int halving = 0; halving < 2 && step > 0.0; ++halving) {
      step *= 0.5;
      const double centre = worst_setting;
      for (const double setting : {centre - step, centre + step}) {
        if (setting >= all.front() && setting <= all.back()) look(setting);
      }
    }
    known.push_back(worst_setting);
  }
  return known;
}

// The worst supply with the central lamp, then the unfavourable lamps there. What only advises is told for the central
// lamp.
const std::vector<Situation>& CountSearch::situations(const Constraint& constraint) {
  std::vector<Situation>& known = situations_[constraint.name + constraint.quantity];
  if (!known.empty()) return known;
  const std::vector<double>& settings = (guide_ != nullptr ? *guide_ : *this).worst_settings(constraint);
  if (guide_ != nullptr) {
    for (const double setting : settings) {
      const Situation at{0, 0, setting};
      if (std::find(known.begin(), known.end(), at) == known.end()) known.push_back(at);
    }
    return known;
  }
  Worst worst{load_.value(constraint, 1, {0, 0, settings[0]}, true), {0, 0, settings[0]}};
  const auto look = [&](const Situation& at) {
    const double value = load_.value(constraint, 1, at, true);
    if (worse(constraint, value, worst.value)) worst = {value, at};
  };
  for (std::size_t supply = 1; supply < settings.size(); ++supply) look({supply, 0, settings[supply]});
  const Situation centre = worst.at;
  for (std::size_t lamp = 1; lamp < load_.margins().lamps.size() && !constraint.advice; ++lamp) {
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
  const bool least = constraint.sets_least();
  const auto above = [&](double value) { return constraint.keeps(value) == least; };
  double low_value = worst(constraint, 1).value;
  if (above(low_value)) return least ? 1 : 0;
  int low = 1;
  int high = most_lamps + 1;
  double high_value = 0.0;  // 0: not looked at
  double exponent = 1.0;
  for (int turn = 0; high - low > 1; ++turn) {
    double guess = 0.5 * (low + high);
    if (turn % 4 != 3 && !constraint.eases && low_value > 0.0 && constraint.limit > low_value) {
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
  return least ? high : std::min(low, most_lamps);
}

int CountSearch::verify(const Constraint& constraint, int count) {
  const int looked_at = std::clamp(count, 1, most_lamps);
  const Situation expected = worst(constraint, looked_at).at;
  Worst found{load_.value(constraint, looked_at, expected, true), expected};
  for (std::size_t supply = 0; supply < load_.margins().supplies_v.size(); ++supply) {
    for (const double setting : settings(constraint)) {
      const Situation at{supply, expected.lamp, setting};
      const double value = load_.value(constraint, looked_at, at, true);
      if (worse(constraint, value, found.value)) found = {value, at};
    }
  }
  if (found.at == expected) return count;
  situations_[constraint.name + constraint.quantity].push_back(found.at);
  return this->count(constraint);
}

}  // namespace lampload
