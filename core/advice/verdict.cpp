#include "core/advice/verdict.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <utility>

#include "core/advice/count_search.h"
#include "core/advice/margin_cost.h"

namespace lampload {
namespace {

constexpr double least_share_of_power = 0.005;  // below it a setting is dead travel

std::string sentence(const Constraint& constraint, const Worst& worst, int count, Load& load, Mode mode) {
  const std::string_view verb = constraint.minimum ? "at least" : "at most";
  const std::string where = operating_point(load, constraint, worst.at, mode);
  const std::string unit = constraint.unit.empty() ? "" : " " + constraint.unit;
  const std::string told = load.told(constraint, count, worst.at);
  return fmt::format("{} is {:.3g}{} with {} lamp{} ({}){}; {} {:.3g}{} is allowed", constraint.quantity, worst.value,
                     unit, count, count == 1 ? "" : "s", where, told, verb, constraint.limit, unit);
}

/// Roughly first: what is far from binding is left at that. The binding constraint is verified over the whole grid, and
/// the others with so many lamps as it allows: with more lamps another setting may be worst. What lowers a count may
/// let another bind.
std::vector<int> counts_of(CountSearch& search, const std::vector<Constraint>& constraints) {
  constexpr int far = 2;  // times the lowest rough count
  std::vector<int> counts;
  int least = most_lamps;
  for (const Constraint& constraint : constraints) {
    counts.push_back(constraint.advice ? most_lamps : search.rough_count(constraint));
    if (!constraint.advice && !constraint.sets_least()) least = std::min(least, counts.back());
  }
  for (std::size_t i = 0; i < constraints.size(); ++i) {
    if (constraints[i].advice) continue;
    if (constraints[i].sets_least() || counts[i] <= far * std::max(least, 1)) {
      counts[i] = search.count(constraints[i], counts[i]);
    } else {
      counts[i] = std::max(search.nearly(constraints[i], counts[i]), far * std::max(least, 1));
    }
  }
  std::vector<int> verified(constraints.size(), 0);  // with so many lamps
  while (true) {
    std::size_t binding = constraints.size();
    for (std::size_t i = 0; i < constraints.size(); ++i) {
      if (constraints[i].sets_least() || constraints[i].advice) continue;
      if (binding == constraints.size() || counts[i] < counts[binding]) binding = i;
    }
    if (binding == constraints.size()) break;
    const int lamps = counts[binding];
    std::size_t next = binding;
    for (std::size_t i = 0; i < constraints.size() && verified[next] == lamps; ++i) {
      if (!constraints[i].sets_least() && !constraints[i].advice) next = i;
    }
    if (verified[next] == lamps) break;
    if (search.verify(constraints[next], lamps)) counts[next] = search.count(constraints[next]);
    verified[next] = lamps;
  }
  return counts;
}

int upper_count(const std::vector<Constraint>& constraints, const std::vector<int>& counts) {
  int least = most_lamps;
  for (std::size_t i = 0; i < constraints.size(); ++i) {
    if (!constraints[i].sets_least()) least = std::min(least, counts[i]);
  }
  return least;
}

/// What of the lamps is still warm from running where they are switched on; empty: they are cold.
std::string still_warm(Load& load, const Situation& at) {
  const auto& groups = load.margins().lamps[at.lamp];
  std::string warm;
  for (std::size_t g = 0; g < groups.size(); ++g) {
    const auto& states = groups[g].lamp.family().states;
    const std::vector<double>& start = load.start_state(at, g);
    for (std::size_t s = 0; s < start.size(); ++s) {
      if (states[s].time_constant.empty()) continue;
      warm += fmt::format("{}{} {:.0f} {}", warm.empty() ? "" : ", ", states[s].name, start[s], states[s].unit);
    }
  }
  return warm;
}

}  // namespace

std::string operating_point(Load& load, const Constraint& constraint, const Situation& at, Mode mode) {
  std::string where = fmt::format("{:.0f} V supply", load.margins().supplies_v[at.supply]);
  if (constraint.of_turn_on) {
    const std::string warm = still_warm(load, at);
    const std::string before = warm.empty() ? "cold" : fmt::format("again while warm from running ({})", warm);
    where += load.starts_softly() ? fmt::format(", soft start {}", warm.empty() ? "from cold" : before)
                                  : fmt::format(", switched {}on {} at {:.0f} degrees", warm.empty() ? "" : "off and ",
                                                before, at.setting_deg);
  } else if (constraint.of_range) {
    where += ", up from cold and down again";
  } else if (constraint.of_off) {
    where += ", switched off";
  } else if (mode != Mode::on_off) {
    where += fmt::format(", {:.0f} degrees conduction", at.setting_deg);
  }
  return where;
}

void conclude(ModeVerdict& verdict) {
  verdict.max_lamps = most_lamps;
  verdict.max_lamps_nominal = most_lamps;
  verdict.limited_by.clear();
  verdict.next_limit.clear();
  std::vector<const ConstraintResult*> upper;
  for (const ConstraintResult& result : verdict.constraints) {
    if (result.max_lamps) upper.push_back(&result);
  }
  std::stable_sort(upper.begin(), upper.end(), [](const ConstraintResult* a, const ConstraintResult* b) {
    if (*a->max_lamps != *b->max_lamps) return *a->max_lamps < *b->max_lamps;
    return a->value / a->limit > b->value / b->limit;
  });
  for (const ConstraintResult* result : upper) {
    verdict.max_lamps = std::min(verdict.max_lamps, *result->max_lamps);
    verdict.max_lamps_nominal = std::min(verdict.max_lamps_nominal, *result->max_lamps_nominal);
  }
  if (!upper.empty() && *upper[0]->max_lamps < most_lamps) verdict.limited_by = upper[0]->name;
  if (upper.size() > 1 && *upper[1]->max_lamps < most_lamps) verdict.next_limit = upper[1]->name;
  for (const ConstraintResult& result : verdict.constraints) {
    if (result.max_lamps || result.holds || result.advice) continue;
    verdict.max_lamps = 0;
    verdict.max_lamps_nominal = 0;
    verdict.next_limit = verdict.limited_by;
    verdict.limited_by = result.name;
    break;
  }
}

JudgedMode judge_mode(const LampEvidence& evidence, const std::vector<Lamp>& lamps, const Channel& channel, Mode mode,
                      const std::vector<Constraint>& constraints) {
  const double supply_v = channel.supply.voltage_v;
  const double tolerance = channel.supply.tolerance_percent / 100.0;
  std::vector<double> supplies{supply_v * (1.0 + tolerance)};
  if (tolerance > 0.0) supplies.push_back(supply_v * (1.0 - tolerance));
  const auto kept_load = std::make_shared<Load>(channel, mode, Margins{supplies, mixes_of(lamps), {evidence.spread}});
  const auto kept_search = std::make_shared<CountSearch>(*kept_load);
  Load& load = *kept_load;
  CountSearch& search = *kept_search;
  Load nominal_load(channel, mode, {{supply_v}, mixes_of({&lamps.front(), 1}), {}});
  CountSearch nominal_search(nominal_load, &search);
  const std::vector<int> counts = counts_of(search, constraints);
  const std::vector<int> nominal_counts = counts_of(nominal_search, constraints);
  const int most = std::min(upper_count(constraints, counts), upper_count(constraints, nominal_counts));

  JudgedMode judged;
  ModeVerdict& verdict = judged.verdict;
  verdict.mode = mode;
  const int shown = std::max(most, 1);
  for (std::size_t i = 0; i < constraints.size(); ++i) {
    const Constraint& constraint = constraints[i];
    const int looked_at = constraint.of_one ? 1 : shown;
    const Worst worst = search.worst(constraint, looked_at);
    ConstraintResult& result = verdict.constraints.emplace_back();
    result.name = constraint.name;
    result.value = worst.value;
    result.limit = constraint.limit;
    result.unit = constraint.unit;
    result.source = constraint.source;
    result.sentence = sentence(constraint, worst, looked_at, load, mode);
    result.advice = constraint.advice;
    if (constraint.advice) {
      result.holds = constraint.keeps(worst.value);
    } else if (constraint.sets_least()) {
      const char* verb = constraint.minimum ? "reach" : "keep";
      result.holds = counts[i] <= most;
      result.sentence += counts[i] > most_lamps ? fmt::format("; no number of these lamps can {} it", verb)
                                                : fmt::format("; {} lamps or more {} it", counts[i], verb);
    } else {
      result.max_lamps = std::min(counts[i], nominal_counts[i]);
      result.max_lamps_nominal = nominal_counts[i];
      result.holds = *result.max_lamps >= 1;
    }
  }
  conclude(verdict);
  judged.margins = [kept_load, kept_search, constraints, counts, with_spread = verdict.max_lamps,
                    central = verdict.max_lamps_nominal] {
    return margin_cost(*kept_load, *kept_search, constraints, counts, with_spread, central);
  };

  const std::vector<double>& angles = load.angles_deg();
  const SteadyFigures& widest = load.steady(1, {0, 0, angles.back()}, true);
  verdict.min_conduction_deg = angles.back();
  verdict.max_conduction_deg = angles.back();
  for (const double angle : angles) {
    const SteadyFigures& figures = load.steady(1, {0, 0, angle}, true);
    judged.stress = std::max(judged.stress, figures.peak_a / std::max(widest.rms_a, 1e-9));
    if (figures.lamp_power_w > least_share_of_power * widest.lamp_power_w) {
      verdict.min_conduction_deg = std::min(verdict.min_conduction_deg, angle);
    }
  }
  judged.range_deg = mode == Mode::on_off ? 0.0 : verdict.max_conduction_deg - verdict.min_conduction_deg;
  return judged;
}

}  // namespace lampload
