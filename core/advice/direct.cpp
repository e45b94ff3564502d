#include "core/advice/direct.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <memory>
#include <numbers>

#include "core/advice/count_search.h"
#include "core/standards/cable.h"

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
  bool advice = false;   ///< as in Constraint
  std::function<double(double total)> value = [](double total) { return total; };
};

/// One lamp's current or voltage: least, central and greatest over lamps, supplies and samples.
struct OfOne {
  double least = 0.0, central = 0.0, greatest = 0.0;
};

/// Chains side by side share a driver's current evenly, as far as their voltages agree.
double chains_of(const Output& output) { return output.parallel_chains.value_or(1.0); }

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
                     : dc_voltage_v(family, values, *channel.output.current_a / chains_of(channel.output));
    };
  };
  const std::vector<double>& values = evidence.lamp->parameters();
  const double low = at(-tolerance)(values) - two_sd(evidence, at(-tolerance));
  const double high = at(tolerance)(values) + two_sd(evidence, at(tolerance));
  const double spread = 2.0 * evidence.spread.of_one(evidence.spread.continuous_current);
  return {std::max(0.0, low) * (1.0 - spread), at(0.0)(values), high * (1.0 + spread)};
}

/// How a lamp's current follows a pulse's edge.
struct Edges {
  double own_s = 0.0;      ///< until it has 90 % of its steady current, fed at once
  double current_a = 0.0;  ///< then
  double slope_s = 0.0;    ///< of it by the voltage

  /// Side by side with `count` others: the slowest counts.
  void add(const Edges& other, int count) {
    own_s = std::max(own_s, other.own_s);
    current_a += count * other.current_a;
    slope_s += count * other.slope_s;
  }
};

Edges edges_of(const LampEvidence& evidence, double supply_v) {
  constexpr double first_step_s = 1e-9;
  constexpr double longest_s = 1.0;
  constexpr double growth = 1.02;  // of the steps: how finely the time is found
  constexpr double reached = 0.9;
  const FamilyInfo& family = evidence.lamp->family();
  const std::vector<double>& values = evidence.lamp->parameters();
  const double steady_a = family.dc_current_a(values, supply_v);
  Edges edges{.current_a = steady_a};
  if (!(steady_a > 0.0)) return edges;
  const std::unique_ptr<LampDevice> lamp = evidence.lamp->device();
  double current_a = lamp->advance(0.0, supply_v, first_step_s).current_a;
  for (double step_s = first_step_s; current_a < reached * steady_a && edges.own_s < longest_s; step_s *= growth) {
    current_a = lamp->advance(supply_v, supply_v, step_s).current_a;
    edges.own_s += step_s;
  }
  const double change_v = 0.01 * supply_v;
  edges.slope_s = (steady_a - family.dc_current_a(values, supply_v - change_v)) / change_v;
  return edges;
}

/// The time that the switch, the cable and the lamps take one after the other, which is the safe side.
std::optional<Rule> duty_rise(const Channel& channel, const Edges& edges, Missing& missing) {
  const Output& output = channel.output;
  if (!output.min_duty_percent || !output.pwm_hz || !output.edge_time_s) {
    missing.emplace_back("duty_rise: output.min_duty_percent, pwm_hz and edge_time_s");
    return std::nullopt;
  }
  double cable_h = 0.0;
  if (channel.cable) cable_h = cable_impedance(channel.cable->length_m, channel.cable->conductor_mm2).inductance_h;
  const double by_current =
      edges.current_a > 0.0 ? std::numbers::ln10 * cable_h * edges.slope_s / edges.current_a : 0.0;
  return Rule{.name = "duty_rise",
              .quantity = "time until a pulse's current has risen",
              .unit = "s",
              .source = "shortest pulse: output.min_duty_percent of the period of output.pwm_hz",
              .limit = 0.01 * *output.min_duty_percent / *output.pwm_hz,
              .value = [start = *output.edge_time_s + edges.own_s, by_current](double total) {
                return start + by_current * total;
              }};
}

std::optional<Rule> direct_voltage_drop(const Channel& channel, Missing& missing) {
  if (!channel.cable) {
    missing.emplace_back("voltage_drop: cable");
    return std::nullopt;
  }
  const std::optional<double> asked = channel.limits.voltage_drop_percent;
  const double ohm = cable_impedance(channel.cable->length_m, channel.cable->conductor_mm2).resistance_ohm;
  return Rule{
      .name = "voltage_drop",
      .quantity = "voltage drop along the cable, of the supply,",
      .unit = "%",
      .source = asked ? "limits.voltage_drop_percent; resistances of IEC 60228 at 70 degC"
                      : "BS 7671 appendix 4, lighting (from memory); resistances of IEC 60228 at 70 degC",
      .limit = asked.value_or(usual_lighting_drop_percent),
      .advice = !asked,
      .value = [percent = 100.0 * ohm / *channel.output.supply_voltage_v](double total) { return percent * total; }};
}

std::vector<Rule> pulse_width_rules(const Channel& channel, const Edges& edges, Missing& missing) {
  const Output& output = channel.output;
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
    // V i t / 2 at each of a pulse's two edges: the cable keeps the current up until the voltage has changed.
    const bool switching = output.edge_time_s && output.pwm_hz;
    if (!switching) missing.emplace_back("switch_temperature: output.edge_time_s and pwm_hz (switching loss)");
    const double edge_v = switching ? *output.supply_voltage_v * *output.edge_time_s * *output.pwm_hz : 0.0;
    rules.push_back({.name = "switch_temperature",
                     .quantity = switching ? "junction temperature from conduction and switching loss"
                                           : "junction temperature from conduction loss",
                     .unit = "degC",
                     .source = "channel ratings, output.max_junction_c and thermal resistance; loss R i^2 + V i t f",
                     .limit = *output.max_junction_c,
                     .value = [ambient = *output.ambient_c, k_per_w = *output.thermal_resistance_k_per_w,
                               ohm = *output.on_resistance_ohm, edge_v](double total) {
                       return ambient + k_per_w * (ohm * total * total + edge_v * total);
                     }});
  } else {
    missing.emplace_back(
        "switch_temperature: output.thermal_resistance_k_per_w, max_junction_c, ambient_c and on_resistance_ohm");
  }
  for (std::optional<Rule> rule : {direct_voltage_drop(channel, missing), duty_rise(channel, edges, missing)}) {
    if (rule) rules.push_back(std::move(*rule));
  }
  return rules;
}

std::vector<Rule> constant_current_rules(const Output& output, Missing& missing) {
  const std::string voltage = chains_of(output) > 1.0
                                  ? fmt::format("voltage of each of {:g} chains side by side", chains_of(output))
                                  : "voltage of all lamps in series";
  std::vector<Rule> rules;
  if (output.compliance_max_v) {
    rules.push_back({.name = "compliance",
                     .quantity = voltage,
                     .unit = "V",
                     .source = "driver rating, output.compliance_max_v",
                     .limit = *output.compliance_max_v});
  } else {
    missing.emplace_back("compliance: output.compliance_max_v");
  }
  if (output.compliance_min_v) {
    rules.push_back({.name = "compliance",
                     .quantity = voltage,
                     .unit = "V",
                     .source = "driver rating, output.compliance_min_v",
                     .limit = *output.compliance_min_v,
                     .minimum = true});
  } else {
    missing.emplace_back("compliance: output.compliance_min_v");
  }
  return rules;
}

/// Of n lamps: in the longest chain, or the shortest where a limit must be reached.
int in_a_chain(const Rule& rule, int n, int chains) { return (rule.minimum ? n : n + chains - 1) / chains; }

/// Largest count that keeps the limit, or least that reaches it (most_lamps + 1 where none does).
int count_of(const Rule& rule, double one, int chains) {
  for (int n = 1; n <= most_lamps; ++n) {
    const double value = rule.value(in_a_chain(rule, n, chains) * one);
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
      pulse_width ? pulse_width_rules(channel, edges_of(evidence, *output.supply_voltage_v), missing)
                  : constant_current_rules(output, missing);
  const int chains = pulse_width ? 1 : static_cast<int>(chains_of(output));
  const auto worst = [&](const Rule& rule) { return rule.minimum ? one.least : one.greatest; };

  int most = most_lamps;
  for (const Rule& rule : rules) {
    if (rule.minimum || rule.advice) continue;
    most = std::min({most, count_of(rule, one.greatest, chains), count_of(rule, one.central, chains)});
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
    result.value = rule.value(in_a_chain(rule, shown, chains) * worst(rule));
    result.limit = rule.limit;
    result.unit = rule.unit;
    result.source = rule.source;
    result.sentence = fmt::format("{} is {:.3g} {} with {} lamp{} ({}); {} {:.3g} {} is allowed", rule.quantity,
                                  result.value, rule.unit, shown, shown == 1 ? "" : "s", where,
                                  rule.minimum ? "at least" : "at most", rule.limit, rule.unit);
    const int count = count_of(rule, worst(rule), chains);
    result.advice = rule.advice;
    if (rule.advice) {
      result.holds = result.value <= rule.limit;
    } else if (rule.minimum) {
      result.holds = count <= most;
      result.sentence += count > most_lamps ? "; no number of these lamps reaches it"
                                            : fmt::format("; {} lamps or more reach it", count);
    } else {
      result.max_lamps = count;
      result.max_lamps_nominal = std::max(count, count_of(rule, one.central, chains));
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
  Edges edges;
  for (const LoadItem& item : load) {
    const OfOne one = of_one(item.evidence, channel, check.mode);
    if (pulse_width) edges.add(edges_of(item.evidence, *output.supply_voltage_v), item.count);
    total.least += item.count * one.least;
    total.central += item.count * one.central;
    total.greatest += item.count * one.greatest;
  }
  // which lamps hang in which chain is not known: they are taken as evenly as it goes
  const double chains = pulse_width ? 1.0 : chains_of(output);
  for (const Rule& rule : pulse_width ? pulse_width_rules(channel, edges, check.not_checked)
                                      : constant_current_rules(output, check.not_checked)) {
    CheckedConstraint& one = check.constraints.emplace_back();
    one.name = rule.name;
    one.value = rule.value((rule.minimum ? total.least : total.greatest) / chains);
    one.nominal_value = rule.value(total.central / chains);
    one.limit = rule.limit;
    one.unit = rule.unit;
    one.minimum = rule.minimum;
    one.advice = rule.advice;
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
