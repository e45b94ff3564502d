#include "core/advice/direct.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "core/advice/count_search.h"

namespace lampload {
namespace {

/// What all lamps together come to: their current side by side, or their voltage in series.
struct Rule {
  std::string name;
  std::string quantity;
  std::string unit;
  std::string source;
  double limit = 0.0;
  bool minimum = false;  ///< to be reached
  std::function<double(double total)> value = [](double total) { return total; };
};

/// One lamp's current or voltage: least, central and greatest over lamps, supplies and samples.
struct OfOne {
  double least = 0.0, central = 0.0, greatest = 0.0;
};

/// Two standard uncertainties of a figure, from all parameters together.
double two_sd(const LampEvidence& evidence, const std::function<double(const std::vector<double>&)>& figure) {
  const auto specs = evidence.lamp->family().parameters;
  const std::vector<double>& values = evidence.lamp->parameters();
  const std::size_t n = specs.size();
  if (evidence.covariance.size() != n * n) return 0.0;
  std::vector<double> slope(n, 0.0);
  for (std::size_t j = 0; j < n; ++j) {
    const double variance = evidence.covariance[j * n + j];
    if (!(variance > 0.0) || (specs[j].optional && values[j] == specs[j].absent)) continue;
    const double step = 0.01 * std::min(1.0, std::sqrt(variance));
    const auto moved = [&](double by) {
      std::vector<double> other = values;
      other[j] = std::clamp(from_coordinate(specs[j], to_coordinate(specs[j], values[j]) + by), specs[j].lower,
                            specs[j].upper);
      return figure(other);
    };
    slope[j] = (moved(step) - moved(-step)) / (2.0 * step);
  }
  double variance = 0.0;
  for (std::size_t a = 0; a < n; ++a) {
    for (std::size_t b = 0; b < n; ++b) variance += slope[a] * evidence.covariance[a * n + b] * slope[b];
  }
  return 2.0 * std::sqrt(std::max(0.0, variance));
}

OfOne of_one(const LampEvidence& evidence, const Channel& channel, Mode mode) {
  const FamilyInfo& family = evidence.lamp->family();
  const bool current = mode == Mode::dc_pwm;
  const double tolerance = current ? channel.supply.tolerance_percent / 100.0 : 0.0;
  const auto at = [&](double change) {
    return [&, change](const std::vector<double>& values) {
      return current ? family.dc_current_a(values, *channel.output.supply_voltage_v * (1.0 + change))
                     : dc_voltage_v(family, values, *channel.output.current_a);
    };
  };
  const std::vector<double>& values = evidence.lamp->parameters();
  const double low = at(-tolerance)(values) - two_sd(evidence, at(-tolerance));
  const double high = at(tolerance)(values) + two_sd(evidence, at(tolerance));
  const double spread = 2.0 * evidence.spread.of_one(evidence.spread.continuous_current);
  return {std::max(0.0, low) * (1.0 - spread), at(0.0)(values), high * (1.0 + spread)};
}

std::vector<Rule> pulse_width_rules(const Output& output, Missing& missing) {
  std::vector<Rule> rules;
  if (output.rated_current_a) {
    rules.push_back({.name = "continuous_current",
                     .quantity = "current through the switch, fed all the time,",
                     .unit = "A",
                     .source = "channel rating, output.rated_current_a",
                     .limit = *output.rated_current_a});
  } else {
    missing.emplace_back("continuous_current: output.rated_current_a");
  }
  if (output.repetitive_peak_current_a) {
    rules.push_back({.name = "repetitive_peak",
                     .quantity = "current of each pulse",
                     .unit = "A",
                     .source = "channel rating, output.repetitive_peak_current_a",
                     .limit = *output.repetitive_peak_current_a});
  } else {
    missing.emplace_back("repetitive_peak: output.repetitive_peak_current_a");
  }
  if (output.thermal_resistance_k_per_w && output.max_junction_c && output.ambient_c && output.on_resistance_ohm) {
    rules.push_back(
        {.name = "switch_temperature",
         .quantity = "junction temperature from conduction loss",
         .unit = "degC",
         .source = "channel ratings, output.max_junction_c and thermal resistance; loss R i^2",
         .limit = *output.max_junction_c,
         .value = [ambient = *output.ambient_c, rise = *output.thermal_resistance_k_per_w * *output.on_resistance_ohm](
                      double total) { return ambient + rise * total * total; }});
  } else {
    missing.emplace_back(
        "switch_temperature: output.thermal_resistance_k_per_w, max_junction_c, ambient_c and on_resistance_ohm");
  }
  return rules;
}

std::vector<Rule> constant_current_rules(const Output& output, Missing& missing) {
  std::vector<Rule> rules;
  if (output.compliance_max_v) {
    rules.push_back({.name = "compliance",
                     .quantity = "voltage of all lamps in series",
                     .unit = "V",
                     .source = "driver rating, output.compliance_max_v",
                     .limit = *output.compliance_max_v});
  } else {
    missing.emplace_back("compliance: output.compliance_max_v");
  }
  if (output.compliance_min_v) {
    rules.push_back({.name = "compliance",
                     .quantity = "voltage of all lamps in series",
                     .unit = "V",
                     .source = "driver rating, output.compliance_min_v",
                     .limit = *output.compliance_min_v,
                     .minimum = true});
  } else {
    missing.emplace_back("compliance: output.compliance_min_v");
  }
  return rules;
}

/// Largest count that keeps the limit, or least that reaches it (most_lamps + 1 where none does).
int count_of(const Rule& rule, double one) {
  for (int n = 1; n <= most_lamps; ++n) {
    const double value = rule.value(n * one);
    if (rule.minimum && value >= rule.limit) return n;
    if (!rule.minimum && value > rule.limit) return n - 1;
  }
  return rule.minimum ? most_lamps + 1 : most_lamps;
}

}  // namespace

std::optional<JudgedMode> judge_direct(const LampEvidence& evidence, const Channel& channel, Mode mode,
                                       Missing& missing) {
  const Output& output = channel.output;
  const bool pulse_width = mode == Mode::dc_pwm;
  if (pulse_width ? !output.supply_voltage_v : !output.current_a) {
    missing.emplace_back(pulse_width ? "dc_pwm: output.supply_voltage_v" : "dc_constant_current: output.current_a");
    return std::nullopt;
  }
  const OfOne one = of_one(evidence, channel, mode);
  const std::vector<Rule> rules =
      pulse_width ? pulse_width_rules(output, missing) : constant_current_rules(output, missing);
  const auto worst = [&](const Rule& rule) { return rule.minimum ? one.least : one.greatest; };

  int most = most_lamps;
  for (const Rule& rule : rules) {
    if (!rule.minimum) most = std::min({most, count_of(rule, one.greatest), count_of(rule, one.central)});
  }
  const int shown = std::max(most, 1);
  const std::string where = pulse_width ? fmt::format("{:.3g} V supply within {:g} %", *output.supply_voltage_v,
                                                      channel.supply.tolerance_percent)
                                        : fmt::format("{:.3g} A", *output.current_a);
  JudgedMode judged;
  judged.verdict.mode = mode;
  for (const Rule& rule : rules) {
    ConstraintResult& result = judged.verdict.constraints.emplace_back();
    result.name = rule.name;
    result.value = rule.value(shown * worst(rule));
    result.limit = rule.limit;
    result.unit = rule.unit;
    result.source = rule.source;
    result.sentence = fmt::format("{} is {:.3g} {} with {} lamp{} ({}); {} {:.3g} {} is allowed", rule.quantity,
                                  result.value, rule.unit, shown, shown == 1 ? "" : "s", where,
                                  rule.minimum ? "at least" : "at most", rule.limit, rule.unit);
    const int count = count_of(rule, worst(rule));
    if (rule.minimum) {
      result.holds = count <= most;
      result.sentence += count > most_lamps ? "; no number of these lamps reaches it"
                                            : fmt::format("; {} lamps or more reach it", count);
    } else {
      result.max_lamps = count;
      result.max_lamps_nominal = std::max(count, count_of(rule, one.central));
      result.holds = count >= 1;
    }
  }
  conclude(judged.verdict);
  return judged;
}

void check_direct(std::span<const LoadItem> load, const Channel& channel, LoadCheck& check) {
  const Output& output = channel.output;
  const bool pulse_width = check.mode == Mode::dc_pwm;
  if (pulse_width ? !output.supply_voltage_v : !output.current_a) {
    check.not_checked.emplace_back(pulse_width ? "dc_pwm: output.supply_voltage_v"
                                               : "dc_constant_current: output.current_a");
    return;
  }
  OfOne total;
  for (const LoadItem& item : load) {
    const OfOne one = of_one(item.evidence, channel, check.mode);
    total.least += item.count * one.least;
    total.central += item.count * one.central;
    total.greatest += item.count * one.greatest;
  }
  for (const Rule& rule :
       pulse_width ? pulse_width_rules(output, check.not_checked) : constant_current_rules(output, check.not_checked)) {
    CheckedConstraint& one = check.constraints.emplace_back();
    one.name = rule.name;
    one.value = rule.value(rule.minimum ? total.least : total.greatest);
    one.nominal_value = rule.value(total.central);
    one.limit = rule.limit;
    one.unit = rule.unit;
    one.minimum = rule.minimum;
    one.source = rule.source;
    one.sentence =
        fmt::format("{} is {:.3g} {} ({:.3g} {} nominal); {} {:.3g} {} is allowed", rule.quantity, one.value, rule.unit,
                    one.nominal_value, rule.unit, rule.minimum ? "at least" : "at most", rule.limit, rule.unit);
  }
  if (pulse_width) {
    check.worst.rms_a = total.greatest;
    check.nominal.rms_a = total.central;
  } else {
    check.worst.rms_a = check.nominal.rms_a = *output.current_a;
  }
}

}  // namespace lampload
