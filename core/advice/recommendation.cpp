#include "core/advice/recommendation.h"

#include <fmt/format.h>

#include <algorithm>
#include <future>
#include <utility>

#include "core/advice/count_search.h"
#include "core/advice/unfavourable.h"
#include "core/advice/verdict.h"

namespace lampload {
namespace {

std::vector<Mode> modes_of(const Channel& channel, std::vector<std::string>& cautions) {
  const Output& output = channel.output;
  if (output.kind == OutputKind::relay) return {Mode::on_off};
  if (output.kind != OutputKind::phase_cut) return {};
  std::vector<Mode> modes;
  for (const Edge edge : output.edges) {
    if (edge == Edge::trailing && output.switch_kind == SwitchKind::triac) {
      cautions.emplace_back("A triac cannot cut a trailing edge; that edge of the channel description is left out.");
    } else if (edge == Edge::leading) {
      modes.push_back(Mode::leading_edge);
    } else if (edge == Edge::trailing) {
      modes.push_back(Mode::trailing_edge);
    }
  }
  modes.push_back(Mode::on_off);
  return modes;
}

bool dims(Mode mode) { return mode == Mode::leading_edge || mode == Mode::trailing_edge; }

void apply_label(JudgedMode& judged) {
  judged.overridden = true;
  ModeVerdict& verdict = judged.verdict;
  verdict.constraints.push_back({.name = "label",
                                 .value = 0.0,
                                 .limit = 1.0,
                                 .unit = "",
                                 .max_lamps = 0,
                                 .max_lamps_nominal = 0,
                                 .holds = false,
                                 .source = "the lamp's label",
                                 .sentence = "the label says that the lamp is not dimmable"});
  conclude(verdict);
}

std::string confidence(const LampEvidence& evidence, Mode mode, const Channel& channel) {
  const Edge edge = mode == Mode::leading_edge    ? Edge::leading
                    : mode == Mode::trailing_edge ? Edge::trailing
                                                  : Edge::none;
  bool operation = false;
  bool uncut = false;
  bool inrush = channel.output.zero_cross_turn_on.value_or(false);
  for (const Figures& figures : evidence.measured) {
    const bool steady = figures.steady_last > figures.steady_first || figures.active_power_w > 0.0;
    operation = operation || (steady && figures.cut.edge == edge);
    uncut = uncut || (steady && figures.cut.edge == Edge::none);
    inrush = inrush || figures.inrush.has_value();
  }
  if (operation && inrush) return "measured";
  return operation || (uncut && inrush) ? "interpolated" : "extrapolated";
}

std::string raise_by(const ModeVerdict& best) {
  if (best.limited_by.empty()) return "";
  const std::string next =
      best.next_limit.empty() ? std::string(".") : fmt::format("; {} is the next limit behind it.", best.next_limit);
  for (const ConstraintResult& result : best.constraints) {
    if (result.name != best.limited_by) continue;
    if (result.name == "label") return "A lamp of this kind that is labelled dimmable.";
    if (!result.max_lamps)
      return fmt::format("More load, or a channel that holds with less ({}){}", result.source, next);
    const char* way = "";
    if (result.name == "surge_peak" || result.name == "surge_i2t") {
      way = ", or turning on at the zero crossing";
    } else if (result.name == "breaker_trip") {
      way = ", a breaker of a slower curve, or turning on at the zero crossing";
    } else if (result.name == "repetitive_peak" || result.name == "current_rise") {
      way = ", a larger choke, or a trailing edge";
    } else if (result.name == "turn_off_energy") {
      way = ", or a clamp";
    } else if (result.name == "switch_temperature") {
      way = ", better cooling, or a lower on-resistance";
    }
    return fmt::format("A {} limit above {:.3g} {}{}{}", result.name, result.limit, result.unit, way, next);
  }
  return "";
}

void add_once(std::vector<std::string>& list, std::string entry) {
  if (std::find(list.begin(), list.end(), entry) == list.end()) list.push_back(std::move(entry));
}

void general_cautions(const LampEvidence& evidence, const Channel& channel, Recommendation& answer) {
  std::vector<std::string>& cautions = answer.cautions;
  if (!evidence.label_dimmable) {
    cautions.emplace_back("It is not known whether the label says dimmable; read it before dimming.");
  }
  if (!evidence.lamp) {
    cautions.emplace_back("No family describes this lamp: the counts come from the measured waveform only.");
  } else {
    for (const std::string& name : unidentified_parameters(evidence)) {
      cautions.push_back("The captures do not identify " + name + "; its whole interval was allowed for.");
    }
  }
  if (!(channel.supply.source_resistance_ohm > 0.0) && !(channel.supply.source_inductance_h > 0.0)) {
    cautions.emplace_back(
        "The supply is given without source impedance: inrush is taken as high as lamp, cable and channel let it be.");
  }
  if (channel.output.soft_start_s.value_or(0.0) > 0.0) {
    cautions.emplace_back("Soft start is not counted on; the lamps are taken as switched on at once.");
  }
  for (const ModeVerdict& mode : answer.modes) {
    if (mode.mode == answer.mode && mode.limited_by.empty()) {
      cautions.push_back(
          fmt::format("Nothing that was checked limits the count; the search ends at {} lamps.", most_lamps));
    }
  }
  cautions.emplace_back("This is advice from a model. Local codes and licensed practice come first.");
}

}  // namespace

std::string mode_name(Mode mode) {
  switch (mode) {
    case Mode::leading_edge:
      return "leading_edge";
    case Mode::trailing_edge:
      return "trailing_edge";
    case Mode::on_off:
      return "on_off";
    case Mode::dc_pwm:
      return "dc_pwm";
    case Mode::dc_constant_current:
      return "dc_constant_current";
    case Mode::none:
      return "none";
  }
  return "none";
}

Recommendation recommend(const LampEvidence& evidence, const Channel& channel) {
  Recommendation answer;
  answer.channel = channel.name;
  answer.spread = evidence.spread;
  answer.confidence = "extrapolated";
  const std::vector<Mode> modes = modes_of(channel, answer.cautions);
  if (modes.empty()) {
    answer.max_conduction_deg = 0.0;
    answer.cautions.emplace_back("DC outputs are not checked by this version.");
    answer.not_checked.emplace_back("output.kind: DC outputs");
    return answer;
  }

  std::vector<Lamp> lamps;
  if (evidence.lamp) lamps = unfavourable_lamps(evidence);
  std::vector<std::future<std::optional<JudgedMode>>> running;
  for (const Mode mode : modes) {
    std::vector<Constraint> constraints = constraints_of(channel, mode, answer.not_checked);
    running.push_back(std::async(std::launch::async, [&, mode, constraints = std::move(constraints)] {
      return evidence.lamp ? std::optional(judge_mode(evidence, lamps, channel, mode, constraints))
                           : judge_measured(evidence, channel, mode, constraints);
    }));
  }
  std::vector<JudgedMode> judged;
  for (std::size_t i = 0; i < modes.size(); ++i) {
    std::optional<JudgedMode> one = running[i].get();
    if (!one) {
      answer.not_checked.push_back(mode_name(modes[i]) + ": not captured");
      continue;
    }
    if (dims(modes[i]) && evidence.label_dimmable && !*evidence.label_dimmable) apply_label(*one);
    judged.push_back(std::move(*one));
  }
  std::vector<std::string> unique;
  for (std::string& entry : answer.not_checked) add_once(unique, std::move(entry));
  answer.not_checked = std::move(unique);

  // Ranges and stresses that differ by less than a step of the grid count as alike.
  std::stable_sort(judged.begin(), judged.end(), [](const JudgedMode& a, const JudgedMode& b) {
    const bool a_holds = a.verdict.max_lamps > 0;
    const bool b_holds = b.verdict.max_lamps > 0;
    if (a_holds != b_holds) return a_holds;
    const bool a_dims = a.range_deg > 0.0;
    const bool b_dims = b.range_deg > 0.0;
    if (a_dims != b_dims) return a_dims;
    if (a.range_deg > 1.5 * b.range_deg || b.range_deg > 1.5 * a.range_deg) return a.range_deg > b.range_deg;
    if (a.stress > 1.05 * b.stress || b.stress > 1.05 * a.stress) return a.stress < b.stress;
    return a.verdict.max_lamps > b.verdict.max_lamps;
  });
  for (JudgedMode& one : judged) answer.modes.push_back(std::move(one.verdict));
  if (!answer.modes.empty()) {
    const ModeVerdict& best = answer.modes.front();
    answer.limited_by = best.limited_by;
    answer.next_limit = best.next_limit;
    answer.raise_by = raise_by(best);
    if (best.max_lamps > 0) {
      answer.mode = best.mode;
      answer.max_lamps = best.max_lamps;
      answer.max_lamps_nominal = best.max_lamps_nominal;
      answer.min_conduction_deg = best.min_conduction_deg;
      answer.max_conduction_deg = best.max_conduction_deg;
      answer.confidence = confidence(evidence, best.mode, channel);
    }
  }
  general_cautions(evidence, channel, answer);
  return answer;
}

}  // namespace lampload
