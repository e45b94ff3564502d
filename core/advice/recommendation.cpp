#include "core/advice/recommendation.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <future>
#include <iterator>
#include <utility>

#include "core/advice/add_once.h"
#include "core/advice/confidence.h"
#include "core/advice/count_search.h"
#include "core/advice/direct.h"
#include "core/advice/unfavourable.h"
#include "core/advice/unsuited.h"
#include "core/advice/verdict.h"
#include "core/circuit/warm_start.h"

namespace lampload {
namespace {

bool cuts_phase(Mode mode) { return mode == Mode::leading_edge || mode == Mode::trailing_edge; }

/// Whatever the simulation says: no lamp in this mode.
void rule_out(std::string name, std::string source, std::string sentence, JudgedMode& judged) {
  judged.overridden = true;
  ModeVerdict& verdict = judged.verdict;
  verdict.constraints.push_back({.name = std::move(name),
                                 .value = 0.0,
                                 .limit = 1.0,
                                 .unit = "",
                                 .max_lamps = 0,
                                 .max_lamps_nominal = 0,
                                 .holds = false,
                                 .source = std::move(source),
                                 .sentence = std::move(sentence)});
  conclude(verdict);
}

std::string raise_by(const ModeVerdict& best) {
  if (best.limited_by.empty()) return "";
  const std::string next =
      best.next_limit.empty() ? std::string(".") : fmt::format("; {} is the next limit behind it.", best.next_limit);
  for (const ConstraintResult& result : best.constraints) {
    if (result.name != best.limited_by) continue;
    if (result.name == "label") return "A lamp of this kind that is labelled dimmable.";
    if (result.name == "phase_cut") return "A lamp of another circuit, or a channel that switches it on and off.";
    if (!result.max_lamps && result.value > result.limit) {
      return fmt::format("A {} limit above {:.3g} {}{}", result.name, result.value, result.unit, next);
    }
    if (!result.max_lamps)
      return fmt::format("More load, or a channel that holds with less ({}){}", result.source, next);
    const char* way = "";
    if (result.name == "surge_peak" || result.name == "surge_i2t" || result.name == "contact_make") {
      way = ", or turning on at the zero crossing";
    } else if (result.name == "breaker_trip") {
      way = ", a breaker of a slower curve, or turning on at the zero crossing";
    } else if (result.name == "repetitive_peak" || result.name == "current_rise") {
      way = ", a larger choke, or a trailing edge";
    } else if (result.name == "turn_off_energy") {
      way = ", or a clamp";
    } else if (result.name == "voltage_drop" || result.name == "neutral_current") {
      way = ", or thicker conductors";
    } else if (result.name == "duty_rise") {
      way = ", a slower pulse frequency, or a shorter cable";
    } else if (result.name == "switch_temperature") {
      way = ", better cooling, or a lower on-resistance";
    }
    return fmt::format("A {} limit above {:.3g} {}{}{}", result.name, result.limit, result.unit, way, next);
  }
  return "";
}

bool direct(Mode mode) { return mode == Mode::dc_pwm || mode == Mode::dc_constant_current; }

/// Was the lamp captured near the point at which this channel works it?
bool captured_there(const LampEvidence& evidence, const Channel& channel, Mode mode) {
  constexpr double near_v = 0.05;
  constexpr double near_a = 0.15;
  return std::any_of(evidence.measured.begin(), evidence.measured.end(), [&](const Figures& figures) {
    if (!figures.direct) return false;
    return mode == Mode::dc_pwm
               ? std::abs(figures.direct->on_voltage_v / *channel.output.supply_voltage_v - 1.0) < near_v
               : std::abs(figures.direct->on_current_a / *channel.output.current_a - 1.0) < near_a;
  });
}

/// What does not hold and sets no count, as cautions.
void advise(const ModeVerdict& mode, std::vector<std::string>& cautions) {
  for (const ConstraintResult& result : mode.constraints) {
    if (!result.advice || result.holds) continue;
    cautions.push_back(fmt::format("{} does not hold, which only advises: {}.", result.name, result.sentence));
  }
}

void recommend_direct(const LampEvidence& evidence, const Channel& channel, Mode mode, Recommendation& answer) {
  answer.max_conduction_deg = 0.0;
  std::optional<JudgedMode> judged;
  if (evidence.lamp) {
    judged = judge_direct(evidence, channel, mode, answer.not_checked);
  } else {
    answer.cautions.emplace_back("No equivalent circuit is known of this lamp: nothing is counted on a DC output.");
  }
  if (judged) {
    const ModeVerdict& verdict = answer.modes.emplace_back(std::move(judged->verdict));
    answer.limited_by = verdict.limited_by;
    answer.next_limit = verdict.next_limit;
    answer.raise_by = raise_by(verdict);
    advise(verdict, answer.cautions);
    if (verdict.max_lamps > 0) {
      answer.mode = mode;
      answer.max_lamps = verdict.max_lamps;
      answer.max_lamps_nominal = verdict.max_lamps_nominal;
      const bool there = captured_there(evidence, channel, mode);
      answer.confidence = there ? "measured" : "extrapolated";
      answer.confidence_reason = there ? "the lamp was captured near this operating point"
                                       : "no capture of the lamp was taken near this operating point";
    }
    if (verdict.limited_by.empty()) {
      answer.cautions.push_back(
          fmt::format("Nothing that was checked limits the count; the search ends at {} lamps.", most_lamps));
    }
  } else if (evidence.lamp) {
    answer.cautions.push_back(fmt::format("The channel does not say its {}: nothing can be counted.",
                                          mode == Mode::dc_pwm ? "supply_voltage_v" : "current_a"));
  }
  if (mode == Mode::dc_constant_current) {
    answer.cautions.emplace_back(
        channel.output.parallel_chains.value_or(1.0) > 1.0
            ? "The count is of all chains together, as equal as it goes. Chains share a driver's current unevenly, and "
              "one that fails open leaves its share to the others."
            : "The count is of lamps in series. Side by side they share a driver's current unevenly, and one that "
              "fails open leaves its share to the others.");
    answer.cautions.emplace_back(
        "Whether the lamp bears the driver's current for long is on its data sheet, not in its captures.");
  }
  answer.cautions.emplace_back("This is advice from a model. Local codes and licensed practice come first.");
}

void general_cautions(const LampEvidence& evidence, const Channel& channel, Recommendation& answer) {
  std::vector<std::string>& cautions = answer.cautions;
  if (!evidence.label_dimmable) {
    cautions.emplace_back("It is not known whether the label says dimmable; read it before dimming.");
  }
  if (!evidence.lamp) {
    cautions.emplace_back(
        "No equivalent circuit is known of this lamp: the counts come from the measured waveform only.");
  } else {
    if (evidence.label_dimmable.value_or(false) && channel.output.kind == OutputKind::phase_cut &&
        unsuited_to_cuts(evidence)) {
      cautions.push_back(fmt::format(
          "The label says dimmable, and the circuit found ({}) is one that no phase cut suits: one of both is wrong. "
          "Captures of the lamp on a dimmer, with both edges, would tell.",
          evidence.lamp->family().name));
    }
    for (const std::string& name : unidentified_parameters(evidence)) {
      cautions.push_back("The captures do not identify " + name + "; its whole interval was allowed for.");
    }
  }
  if (!(channel.supply.source_resistance_ohm > 0.0) && !(channel.supply.source_inductance_h > 0.0)) {
    cautions.emplace_back(
        "The supply is given without source impedance: inrush is taken as high as lamp, cable and channel let it be.");
  }
  if (evidence.lamp && stays_warm(*evidence.lamp)) {
    cautions.emplace_back(
        "This lamp has an inrush limiter (NTC). It limits little while it is hot: surges are counted as after "
        "switching "
        "off and on again at once, and are smaller from cold.");
  }
  if (channel.output.soft_start_s.value_or(0.0) > 0.0) {
    cautions.emplace_back(
        "Inrush is counted with the channel's soft start where it dims; held on, or switched by something else, the "
        "lamps take their whole surge.");
  }
  for (const ModeVerdict& mode : answer.modes) {
    if (mode.mode != answer.mode) continue;
    advise(mode, cautions);
    if (mode.limited_by.empty()) {
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

std::vector<Mode> modes_of(const Channel& channel, std::vector<std::string>& cautions) {
  const Output& output = channel.output;
  if (output.kind == OutputKind::relay) return {Mode::on_off};
  if (output.kind == OutputKind::dc_pwm) return {Mode::dc_pwm};
  if (output.kind == OutputKind::dc_constant_current) return {Mode::dc_constant_current};
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

Recommendation recommend(const LampEvidence& evidence, const Channel& channel) {
  Recommendation answer;
  answer.channel = channel.name;
  answer.spread = evidence.spread;
  answer.confidence = "extrapolated";
  if (const std::optional<Unsuited> why = unsuited(evidence, channel)) {
    answer.max_conduction_deg = 0.0;
    answer.limited_by = "supply";
    answer.raise_by = why->remedy;
    answer.cautions.push_back(why->sentence);
    return answer;
  }
  const std::vector<Mode> modes = modes_of(channel, answer.cautions);
  if (direct(modes.front())) {
    recommend_direct(evidence, channel, modes.front(), answer);
    return answer;
  }

  std::vector<Lamp> lamps;
  if (evidence.lamp) {
    lamps = unfavourable_lamps(evidence, {channel.supply.voltage_v, channel.supply.frequency_hz});
  }
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
    if (cuts_phase(modes[i]) && evidence.label_dimmable && !*evidence.label_dimmable)
      rule_out("label", "the lamp's label", "the label says that the lamp is not dimmable", *one);
    if (std::optional<std::string> why = unsuited_to_cuts(evidence); why && cuts_phase(modes[i])) {
      rule_out("phase_cut", unsuited_to_cuts_source, *std::move(why), *one);
    }
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
  if (!judged.empty() && judged.front().verdict.max_lamps > 0 && judged.front().margins) {
    answer.margins = judged.front().margins();
  }
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
      Confidence found = confidence_of(evidence, best.mode, channel);
      answer.confidence = std::move(found.level);
      answer.confidence_reason = std::move(found.reason);
      std::move(found.cautions.begin(), found.cautions.end(), std::back_inserter(answer.cautions));
    }
  }
  general_cautions(evidence, channel, answer);
  return answer;
}

}  // namespace lampload
