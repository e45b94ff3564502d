#include "core/advice/load_check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

#include "core/advice/add_once.h"
#include "core/advice/constraint.h"
#include "core/advice/count_search.h"
#include "core/advice/direct.h"
#include "core/advice/unfavourable.h"
#include "core/advice/unsuited.h"
#include "core/advice/verdict.h"
#include "core/error.h"

namespace lampload {
namespace {

std::string names_of(std::span<const Mode> modes) {
  std::string names;
  for (const Mode mode : modes) names += (names.empty() ? "" : ", ") + mode_name(mode);
  return names;
}

void refuse_what_cannot_be(std::span<const LoadItem> load, const Channel& channel, Mode mode, LoadCheck& check) {
  if (load.empty()) throw Error(ErrorCode::usage, "a load needs at least one lamp");
  for (const LoadItem& item : load) {
    if (item.count >= 1) continue;
    throw Error(ErrorCode::usage,
                fmt::format("{} of lamp '{}' on a channel; expected 1 or more", item.count, item.evidence.name));
  }
  const std::vector<Mode> modes = modes_of(channel, check.cautions);
  if (std::find(modes.begin(), modes.end(), mode) == modes.end()) {
    throw Error(ErrorCode::usage, fmt::format("channel '{}' cannot do {}; its modes are {}", channel.name,
                                              mode_name(mode), names_of(modes)));
  }
}

/// A condition that either holds or not, as a constraint that fails.
CheckedConstraint failed(std::string name, std::string source, std::string sentence) {
  return {.name = std::move(name),
          .value = 0.0,
          .nominal_value = 0.0,
          .limit = 1.0,
          .unit = "",
          .minimum = true,
          .holds = false,
          .holds_nominal = false,
          .source = std::move(source),
          .sentence = std::move(sentence)};
}

/// A constraint's own part of what is checked.
CheckedConstraint unfilled(const Constraint& constraint) {
  CheckedConstraint result;
  result.name = constraint.name;
  result.limit = constraint.limit;
  result.unit = constraint.unit;
  result.minimum = constraint.minimum;
  result.advice = constraint.advice;
  result.source = constraint.source;
  return result;
}

/// The mix of all lamps with a family, and each with one type at an unfavourable end.
struct Variants {
  std::vector<Mix> mixes;          ///< the central one first
  std::vector<std::size_t> moved;  ///< by mix: which group is not central
};

Variants variants_of(std::span<const LoadItem> load, const Supply& supply) {
  Mix central;
  for (const LoadItem& item : load) {
    if (item.evidence.lamp) central.push_back({*item.evidence.lamp, item.count});
  }
  Variants all{{central}, {central.size()}};
  std::size_t group = 0;
  for (const LoadItem& item : load) {
    if (!item.evidence.lamp) continue;
    const std::vector<Lamp> lamps = unfavourable_lamps(item.evidence, {supply.voltage_v, supply.frequency_hz});
    for (std::size_t i = 1; i < lamps.size(); ++i) {
      Mix mix = central;
      mix[group].lamp = lamps[i];
      all.mixes.push_back(std::move(mix));
      all.moved.push_back(group);
    }
    ++group;
  }
  return all;
}

/// Worst operating points of one load with margins, and without.
class Judge {
 public:
  Judge(std::span<const LoadItem> load, const Channel& channel, Mode mode)
      : variants_(variants_of(load, channel.supply)),
        load_(channel, mode, margins_of(load, channel)),
        nominal_load_(channel, mode, {{channel.supply.voltage_v}, {variants_.mixes.front()}, {}}),
        search_(load_),
        nominal_search_(nominal_load_) {}

  /// Each lamp type is uncertain for itself: the ends that are worst one by one are taken together.
  Worst worst(const Constraint& constraint) {
    Worst found = search_.worst(constraint, 1);
    const std::size_t groups = variants_.mixes.front().size();
    if (groups < 2 || variants_.mixes.size() == 1) return found;
    Mix together = variants_.mixes.front();
    std::vector<std::optional<double>> value(groups);
    const Situation centre{found.at.supply, 0, found.at.setting_deg};
    const auto worse = [&](double a, double b) { return constraint.minimum ? a < b : a > b; };
    const double central = load_.value(constraint, 1, centre, true);
    for (std::size_t i = 1; i < variants_.mixes.size(); ++i) {
      const std::size_t group = variants_.moved[i];
      const double here = load_.value(constraint, 1, {centre.supply, i, centre.setting_deg}, true);
      if (!worse(here, value[group].value_or(central))) continue;
      value[group] = here;
      together[group] = variants_.mixes[i][group];
    }
    const Situation at{centre.supply, load_.add(std::move(together)), centre.setting_deg};
    const double all = load_.value(constraint, 1, at);
    return worse(all, found.value) ? Worst{all, at} : found;
  }
  Worst nominal(const Constraint& constraint) { return nominal_search_.worst(constraint, 1); }

  Load& load() { return load_; }
  Load& nominal_load() { return nominal_load_; }

 private:
  Margins margins_of(std::span<const LoadItem> load, const Channel& channel) const {
    const double supply_v = channel.supply.voltage_v;
    const double tolerance = channel.supply.tolerance_percent / 100.0;
    Margins margins{{supply_v * (1.0 + tolerance)}, variants_.mixes, {}};
    if (tolerance > 0.0) margins.supplies_v.push_back(supply_v * (1.0 - tolerance));
    for (const LoadItem& item : load) {
      if (item.evidence.lamp) margins.spread.push_back(item.evidence.spread);
    }
    return margins;
  }

  Variants variants_;
  Load load_;
  Load nominal_load_;
  CountSearch search_;
  CountSearch nominal_search_;
};

void add_measured(std::span<const LoadItem> load, const Channel& channel, Mode mode, const Constraint& constraint,
                  CheckedConstraint& result, LoadCheck& check) {
  for (const LoadItem& item : load) {
    if (item.evidence.lamp) continue;
    const std::optional<MeasuredValue> measured = measured_value(item.evidence, mode, constraint);
    if (!measured) {
      add_once(check.not_checked, fmt::format("{}: lamp '{}' has no family, and no capture shows it", constraint.name,
                                              item.evidence.name));
      continue;
    }
    const double root = 1.0 / measured->exponent;
    const auto join = [&](double& value, double margin) {
      const double part = item.count * margin * std::pow(measured->of_one, root);
      value = std::pow(std::pow(value, root) + part, measured->exponent);
    };
    join(result.value, measured_margin(channel));
    join(result.nominal_value, 1.0);
  }
}

/// What looks at one lamp: each type by itself, central values, as with one lamp of it on the channel. The worst
/// speaks.
void check_each(std::span<const LoadItem> load, const Channel& channel, const Constraint& constraint,
                LoadCheck& check) {
  std::optional<CheckedConstraint> worst;
  for (const LoadItem& item : load) {
    if (!item.evidence.lamp) {
      add_once(check.not_checked, fmt::format("{}: lamp '{}' has no family", constraint.name, item.evidence.name));
      continue;
    }
    const LoadItem one{item.evidence, 1};
    Judge judge(std::span(&one, 1), channel, check.mode);
    const Worst here = judge.worst(constraint);
    const double nominal = judge.nominal(constraint).value;
    CheckedConstraint result = unfilled(constraint);
    result.value = here.value;
    result.nominal_value = nominal;
    result.setting_deg = result.nominal_setting_deg = here.at.setting_deg;
    result.sentence = fmt::format(
        "{}: {} is {:.3g} {} at worst ({}){}, {:.3g} {} nominal; at most {:.3g} {} is allowed", item.evidence.name,
        constraint.quantity, here.value, constraint.unit,
        operating_point(judge.load(), constraint, here.at, check.mode), judge.load().told(constraint, 1, here.at),
        nominal, constraint.unit, constraint.limit, constraint.unit);
    if (!worst || result.value > worst->value) worst = std::move(result);
  }
  if (worst) check.constraints.push_back(*std::move(worst));
}

void check_simulated(std::span<const LoadItem> load, const Channel& channel, LoadCheck& check) {
  const Mode mode = check.mode;
  const std::vector<Constraint> constraints = constraints_of(channel, mode, check.not_checked);
  std::optional<Judge> judge;
  if (std::any_of(load.begin(), load.end(), [](const LoadItem& item) { return item.evidence.lamp.has_value(); })) {
    judge.emplace(load, channel, mode);
  }
  for (const Constraint& constraint : constraints) {
    if (constraint.of_one) {
      check_each(load, channel, constraint, check);
      continue;
    }
    CheckedConstraint result = unfilled(constraint);
    std::string at = "from measured waveforms alone";
    std::string told;
    if (judge) {
      const Worst worst = judge->worst(constraint);
      const Worst nominal = judge->nominal(constraint);
      result.value = worst.value;
      result.setting_deg = worst.at.setting_deg;
      result.nominal_value = nominal.value;
      result.nominal_setting_deg = nominal.at.setting_deg;
      result.at_turn_on = static_cast<bool>(constraint.of_turn_on);
      at = operating_point(judge->load(), constraint, worst.at, mode);
      told = judge->load().told(constraint, 1, worst.at);
    }
    add_measured(load, channel, mode, constraint, result, check);
    result.sentence =
        fmt::format("{} is {:.3g} {} at worst ({}){}, {:.3g} {} nominal; {} {:.3g} {} is allowed", constraint.quantity,
                    result.value, constraint.unit, at, told, result.nominal_value, constraint.unit,
                    constraint.minimum ? "at least" : "at most", constraint.limit, constraint.unit);
    check.constraints.push_back(std::move(result));
  }
  if (!judge) return;
  Constraint rms;
  rms.name = "rms";
  rms.of_steady = [](const SteadyFigures& figures) { return figures.rms_a; };
  Constraint peak;
  peak.name = "inrush";
  peak.of_turn_on = [](const TurnOnFigures& figures) { return figures.peak_a; };
  check.worst = {judge->worst(rms).value, judge->load().spread_turn_on(1, judge->worst(peak).at, false)};
  check.nominal = {judge->nominal(rms).value, judge->nominal_load().turn_on(1, judge->nominal(peak).at)};
}

bool keeps(const CheckedConstraint& one, double value) { return one.minimum ? value >= one.limit : value <= one.limit; }

void conclude(LoadCheck& check) {
  double most = -std::numeric_limits<double>::infinity();
  for (CheckedConstraint& one : check.constraints) {
    one.holds = keeps(one, one.value);
    one.holds_nominal = keeps(one, one.nominal_value);
    if (one.advice) {
      if (!one.holds) {
        check.cautions.push_back(fmt::format("{} does not hold, which only advises: {}.", one.name, one.sentence));
      }
      continue;
    }
    check.holds = check.holds && one.holds;
    check.holds_nominal = check.holds_nominal && one.holds_nominal;
    if (one.use() <= most) continue;
    most = one.use();
    check.limited_by = one.name;
  }
  std::vector<std::string> unique;
  for (std::string& entry : check.not_checked) add_once(unique, std::move(entry));
  check.not_checked = std::move(unique);
}

}  // namespace

double CheckedConstraint::use() const {
  const double over = minimum ? limit : value;
  const double under = minimum ? value : limit;
  if (under > 0.0) return over / under;
  return over > under ? std::numeric_limits<double>::infinity() : 1.0;
}

LoadCheck check_load(std::span<const LoadItem> load, const Channel& channel, Mode mode) {
  LoadCheck check;
  check.mode = mode;
  refuse_what_cannot_be(load, channel, mode, check);
  const bool dims = mode == Mode::leading_edge || mode == Mode::trailing_edge;
  const bool direct = mode == Mode::dc_pwm || mode == Mode::dc_constant_current;
  bool suited = true;
  for (const LoadItem& item : load) {
    const LampEvidence& lamp = item.evidence;
    if (const std::optional<Unsuited> why = unsuited(lamp, channel)) {
      suited = false;
      check.constraints.push_back(
          failed("supply", "what feeds the lamp", fmt::format("{}: {}", lamp.name, why->sentence)));
    } else if (direct && !lamp.lamp) {
      suited = false;
      check.constraints.push_back(
          failed("supply", "what feeds the lamp",
                 fmt::format("{}: no family describes this lamp, and nothing is counted on a DC output", lamp.name)));
    } else if (dims && lamp.label_dimmable && !*lamp.label_dimmable) {
      check.constraints.push_back(failed("label", "the lamp's label",
                                         fmt::format("{}: the label says that the lamp is not dimmable", lamp.name)));
    } else if (const std::optional<std::string> why = unsuited_to_cuts(lamp); why && dims) {
      check.constraints.push_back(failed("phase_cut", unsuited_to_cuts_source, fmt::format("{}: {}", lamp.name, *why)));
    } else if (dims && !lamp.label_dimmable) {
      check.cautions.push_back(
          fmt::format("It is not known whether the label of {} says dimmable; read it before dimming.", lamp.name));
    }
    if (!direct && !lamp.lamp) {
      check.cautions.push_back(
          fmt::format("No equivalent circuit is known of {}: it joins with its measured waveform only.", lamp.name));
    }
  }
  if (suited && direct) check_direct(load, channel, check);
  if (suited && !direct) check_simulated(load, channel, check);
  conclude(check);
  return check;
}

}  // namespace lampload
