#include "core/advice/count_search.h"

#include <algorithm>
#include <cmath>

#include "core/advice/peak_search.h"

namespace lampload {
namespace {

constexpr double phase_resolution_deg = 1.0;
constexpr double angle_resolution_deg = 2.5;  // a quarter of the grid's step

/// Another supply whose value at a setting that is worst is this far from as bad is not searched by itself.
bool much_better(const Constraint& constraint, double here, double worst) {
  constexpr double share = 0.9;
  return constraint.minimum ? share * here > worst : here < share * worst;
}

/// 1 to most_lamps, a third to a half apart.
const std::vector<int>& shared_counts() {
  static const std::vector<int> counts = [] {
    std::vector<int> all{1, 2, 3};
    while (all.back() * 4 / 3 < most_lamps)
      all.push_back(all.size() % 2 == 1 ? all.back() * 4 / 3 : all.back() * 3 / 2);
    if (all.back() >= most_lamps) all.pop_back();
    all.push_back(most_lamps);
    return all;
  }();
  return counts;
}

std::string key_of(const Constraint& constraint) { return constraint.name + constraint.quantity; }

}  // namespace

bool CountSearch::worse(const Constraint& constraint, double a, double b) const {
  return constraint.minimum ? a < b : a > b;
}

const std::vector<double>& CountSearch::settings(const Constraint& constraint) const {
  if (!constraint.at_deg.empty()) return constraint.at_deg;
  return constraint.of_turn_on ? load_.phases_deg() : load_.angles_deg();
}

// The grid roughly, then to a degree around its worst point; a turn-on is a single half cycle, and can be followed
// closely there.
double CountSearch::worst_setting(const Constraint& constraint, std::size_t supply) {
  const double sign = constraint.minimum ? -1.0 : 1.0;
  const bool closely = static_cast<bool>(constraint.of_turn_on);
  const auto roughly_at = [&](double setting) { return sign * load_.value(constraint, 1, {supply, 0, setting}, true); };
  const auto at = [&](double setting) {
    return closely ? sign * load_.value(constraint, 1, {supply, 0, setting}) : roughly_at(setting);
  };
  return peak_of(settings(constraint), roughly_at, at, closely ? phase_resolution_deg : angle_resolution_deg);
}

const std::vector<double>& CountSearch::worst_settings(const Constraint& constraint) {
  std::vector<double>& known = worst_settings_[key_of(constraint)];
  if (!known.empty()) return known;
  known.push_back(worst_setting(constraint, 0));
  const double first = load_.value(constraint, 1, {0, 0, known[0]}, true);
  for (std::size_t supply = 1; supply < load_.margins().supplies_v.size(); ++supply) {
    const double here = load_.value(constraint, 1, {supply, 0, known[0]}, true);
    const bool same = constraint.advice || much_better(constraint, here, first);
    known.push_back(same ? known[0] : worst_setting(constraint, supply));
  }
  return known;
}

// The worst supply with the central lamp, then the unfavourable lamps there. What only advises is told for the central
// lamp. Lamps are compared on the grid, where constraints share what is simulated.
const std::vector<Situation>& CountSearch::situations(const Constraint& constraint) {
  std::vector<Situation>& known = situations_[key_of(constraint)];
  if (!known.empty()) return known;
  const std::vector<double>& worst = (guide_ != nullptr ? *guide_ : *this).worst_settings(constraint);
  if (guide_ != nullptr) {
    for (const double setting : worst) {
      const Situation at{0, 0, setting};
      if (std::find(known.begin(), known.end(), at) == known.end()) known.push_back(at);
    }
    return known;
  }
  Situation centre{0, 0, worst[0]};
  double centre_value = load_.value(constraint, 1, centre, true);
  for (std::size_t supply = 1; supply < worst.size(); ++supply) {
    const Situation at{supply, 0, worst[supply]};
    const double value = load_.value(constraint, 1, at, true);
    if (!worse(constraint, value, centre_value)) continue;
    centre = at;
    centre_value = value;
  }
  std::size_t worst_lamp = 0;
  if (load_.margins().lamps.size() > 1 && !constraint.advice) {
    const std::vector<double>& all = settings(constraint);
    const double near = *std::min_element(all.begin(), all.end(), [&](double a, double b) {
      return std::abs(a - centre.setting_deg) < std::abs(b - centre.setting_deg);
    });
    double worst_value = load_.value(constraint, 1, {centre.supply, 0, near}, true);
    for (std::size_t lamp = 1; lamp < load_.margins().lamps.size(); ++lamp) {
      const double value = load_.value(constraint, 1, {centre.supply, lamp, near}, true);
      if (!worse(constraint, value, worst_value)) continue;
      worst_value = value;
      worst_lamp = lamp;
    }
  }
  known = {{centre.supply, worst_lamp, centre.setting_deg}};
  return known;
}

Worst CountSearch::worst(const Constraint& constraint, int count, bool screened) {
  Worst result;
  bool first = true;
  for (const Situation& at : situations(constraint)) {
    const double value = load_.value(constraint, count, at, screened);
    if (first || worse(constraint, value, result.value)) result = {value, at};
    first = false;
  }
  return result;
}

// Values grow with the count; where source and cable matter they grow less than in proportion. Guesses run along a
// straight line on logarithmic axes through what is known, and fall back to halving.
int CountSearch::last_below(const Constraint& constraint, int low, int high, int first_guess,
                            const std::function<double(int)>& value) const {
  double low_value = 0.0;  // 0: not looked at
  double high_value = 0.0;
  double exponent = 1.0;
  for (int turn = 0; high - low > 1; ++turn) {
    double guess = 0.5 * (low + high);
    if (turn == 0 && first_guess > 0) {
      guess = first_guess;
    } else if (turn % 4 != 3 && !constraint.eases && constraint.limit > 0.0 && (low_value > 0.0 || high_value > 0.0)) {
      if (low_value > 0.0 && high_value > low_value) {
        exponent = std::log(high_value / low_value) / std::log(static_cast<double>(high) / low);
      }
      const double from = low_value > 0.0 ? low : high;
      const double from_value = low_value > 0.0 ? low_value : high_value;
      guess = from * std::pow(constraint.limit / from_value, 1.0 / std::max(exponent, 0.05));
    } else if (high_value == 0.0 && low > 0) {
      guess = std::sqrt(static_cast<double>(low) * high);
    }
    const int probe = static_cast<int>(std::clamp(guess, low + 1.0, high - 1.0));
    const double here = value(probe);
    if (constraint.keeps(here) == constraint.sets_least()) {
      high = probe;
      high_value = here;
    } else {
      if (low_value > 0.0 && here > low_value) {
        exponent = std::log(here / low_value) / std::log(static_cast<double>(probe) / low);
      }
      low = probe;
      low_value = here;
    }
  }
  return low;
}

// Between counts that all constraints look at, on a straight line on logarithmic axes.
int CountSearch::rough_count(const Constraint& constraint) {
  const auto roughly = [&](int lamps) { return worst(constraint, lamps, true).value; };
  const auto below = [&](double value) { return constraint.keeps(value) != constraint.sets_least(); };
  const std::vector<int>& steps = shared_counts();
  std::size_t low = 0;
  double low_value = roughly(steps[low]);
  if (!below(low_value)) return constraint.sets_least() ? 1 : 0;
  std::size_t high = steps.size();
  double high_value = 0.0;
  double exponent = 1.0;
  while (high - low > 1) {
    std::size_t probe = (low + high) / 2;
    if (!constraint.eases && low_value > 0.0 && constraint.limit > 0.0) {
      const double guess = steps[low] * std::pow(constraint.limit / low_value, 1.0 / exponent);
      const auto above = std::upper_bound(steps.begin(), steps.end(), guess, [](double a, int b) { return a < b; });
      const auto under = static_cast<std::size_t>(std::max<std::ptrdiff_t>(above - steps.begin(), 1)) - 1;
      // just under the guess, and then just over it
      probe = std::clamp(under > low ? under : under + 1, low + 1, high - 1);
    }
    const double value = roughly(steps[probe]);
    if (!below(value)) {
      high = probe;
      high_value = value;
      continue;
    }
    if (low_value > 0.0 && value > low_value) {
      const double grown = std::log(value / low_value) / std::log(static_cast<double>(steps[probe]) / steps[low]);
      exponent = std::max(grown, 0.05);
    }
    low = probe;
    low_value = value;
  }
  double last = steps[low];
  if (high < steps.size()) {
    last = steps[high] - 1.0;
    if (low_value > 0.0 && high_value > low_value && constraint.limit > 0.0) {
      const double slope = std::log(static_cast<double>(steps[high]) / steps[low]) / std::log(high_value / low_value);
      last = std::clamp(steps[low] * std::pow(constraint.limit / low_value, slope), 1.0 * steps[low], last);
    }
  }
  const int lamps = static_cast<int>(last);
  return constraint.sets_least() ? lamps + 1 : lamps;
}

int CountSearch::nearly(const Constraint& constraint, int rough) {
  if (rough < 1 || rough >= most_lamps || constraint.sets_least()) return rough;
  const double roughly = worst(constraint, rough, true).value;
  const double closely = worst(constraint, rough).value;
  if (!(roughly > 0.0) || !(closely > 0.0)) return rough;
  const double of_one = worst(constraint, 1, true).value;
  const double exponent =
      rough > 1 && of_one > 0.0 && roughly > of_one ? std::log(roughly / of_one) / std::log(1.0 * rough) : 1.0;
  return static_cast<int>(
      std::clamp(rough * std::pow(constraint.limit / closely, 1.0 / std::max(exponent, 0.5)), 1.0, 1.0 * most_lamps));
}

int CountSearch::count(const Constraint& constraint, int rough) {
  const auto closely = [&](int lamps) { return worst(constraint, lamps).value; };
  const int expected = constraint.sets_least() ? rough - 1 : rough;
  const int last = last_below(constraint, 0, most_lamps + 1, std::max(expected, 1), closely);
  return constraint.sets_least() ? last + 1 : last;
}

int CountSearch::count_between(const Constraint& constraint, int known, int most) {
  if (known >= most) return most;
  const auto roughly = [&](int lamps) { return worst(constraint, lamps, true).value; };
  const auto closely = [&](int lamps) { return worst(constraint, lamps).value; };
  // what is simulated roughly may be off by less than the rest
  constexpr double safe_share = 0.95;
  if (roughly(most) < safe_share * constraint.limit) return most;
  const int rough = last_below(constraint, known, most + 1, most, roughly);
  return last_below(constraint, known, most + 1, std::max(rough, known + 1), closely);
}

bool CountSearch::verify(const Constraint& constraint, int count) {
  const int looked_at = std::clamp(count, 1, most_lamps);
  const Situation expected = worst(constraint, looked_at).at;
  Worst found{load_.value(constraint, looked_at, expected, true), expected};
  for (std::size_t supply = 0; supply < load_.margins().supplies_v.size(); ++supply) {
    const double here = load_.value(constraint, looked_at, {supply, expected.lamp, expected.setting_deg}, true);
    if (much_better(constraint, here, found.value)) continue;
    for (const double setting : settings(constraint)) {
      const Situation at{supply, expected.lamp, setting};
      const double value = load_.value(constraint, looked_at, at, true);
      if (worse(constraint, value, found.value)) found = {value, at};
    }
  }
  if (found.at == expected) return false;
  // closer around it, and with the lamp that is worst there
  const double sign = constraint.minimum ? -1.0 : 1.0;
  const auto roughly = [&](double setting) {
    return sign * load_.value(constraint, looked_at, {found.at.supply, found.at.lamp, setting}, true);
  };
  found.at.setting_deg = peak_of(settings(constraint), roughly, roughly,
                                 constraint.of_turn_on ? phase_resolution_deg : angle_resolution_deg);
  found.value = load_.value(constraint, looked_at, found.at, true);
  for (std::size_t lamp = 0; lamp < load_.margins().lamps.size() && guide_ == nullptr; ++lamp) {
    const Situation at{found.at.supply, lamp, found.at.setting_deg};
    const double value = load_.value(constraint, looked_at, at, true);
    if (worse(constraint, value, found.value)) found = {value, at};
  }
  situations_[key_of(constraint)].push_back(found.at);
  return true;
}

void CountSearch::follow(const CountSearch& other) {
  situations_ = other.situations_;
  for (auto& [key, all] : situations_) {
    for (Situation& at : all) {
      if (at.lamp >= load_.margins().lamps.size()) at.lamp = 0;
    }
  }
}

}  // namespace lampload
