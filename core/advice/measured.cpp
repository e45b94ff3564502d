// Advice from the measured waveform alone, where no lamp family describes it.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/advice/count_search.h"
#include "core/advice/verdict.h"

namespace lampload {
namespace {

/// Crests beyond the instrument's range: how large the current was is what such a capture does not show.
bool cut_off(const Figures& figures) {
  return std::any_of(figures.quality.begin(), figures.quality.end(), [](const QualityNote& note) {
    return note.code == "overload_current" || note.code == "clipping_current";
  });
}

const Figures* captured(const LampEvidence& evidence, Mode mode) {
  const Edge edge = mode == Mode::leading_edge    ? Edge::leading
                    : mode == Mode::trailing_edge ? Edge::trailing
                                                  : Edge::none;
  const Figures* best = nullptr;
  for (const Figures& figures : evidence.measured) {
    if (figures.cut.edge == edge && !cut_off(figures) &&
        (best == nullptr || figures.current_peak_a > best->current_peak_a))
      best = &figures;
  }
  return best;
}

const Inrush* worst_inrush(const LampEvidence& evidence) {
  const Inrush* worst = nullptr;
  for (const Figures& figures : evidence.measured) {
    if (figures.inrush && !cut_off(figures) && (worst == nullptr || figures.inrush->peak_a > worst->peak_a))
      worst = &*figures.inrush;
  }
  return worst;
}

int largest(double limit, double of_one, double exponent) {
  if (!(of_one > 0.0)) return most_lamps;
  return static_cast<int>(std::clamp(std::floor(std::pow(limit / of_one, 1.0 / exponent)), 0.0, 1.0 * most_lamps));
}

}  // namespace

std::optional<MeasuredValue> measured_value(const LampEvidence& evidence, Mode mode, const Constraint& constraint) {
  const Figures* steady = captured(evidence, mode);
  const Inrush* inrush = worst_inrush(evidence);
  const std::string& name = constraint.name;
  if (steady != nullptr && (name == "continuous_current" || name == "breaker_load")) {
    return MeasuredValue{steady->current_rms_a, 1.0};
  }
  if (steady != nullptr && name == "repetitive_peak") return MeasuredValue{steady->current_peak_a, 1.0};
  // A lamp that starts late has its surge at the least with what flows later.
  if (inrush != nullptr && (name == "surge_peak" || name == "breaker_trip" || name == "contact_make")) {
    return MeasuredValue{std::max(inrush->peak_a, steady != nullptr ? steady->current_peak_a : 0.0), 1.0};
  }
  if (inrush != nullptr && name == "surge_i2t") return MeasuredValue{inrush->i2t_a2s, 2.0};
  return std::nullopt;
}

double measured_margin(const Channel& channel) {
  return (1.0 + 2.0 * usual_spread) * (1.0 + channel.supply.tolerance_percent / 100.0);
}

// Currents are taken in proportion to the count, as if source and cable had no impedance: the safe side. Only what a
// waveform says directly is judged: rms, repetitive peak, inrush and I2t.
std::optional<JudgedMode> judge_measured(const LampEvidence& evidence, const Channel& channel, Mode mode,
                                         const std::vector<Constraint>& constraints) {
  const Figures* steady = captured(evidence, mode);
  if (steady == nullptr) return std::nullopt;
  const double up = measured_margin(channel);

  JudgedMode judged;
  judged.verdict.mode = mode;
  for (const Constraint& constraint : constraints) {
    const std::optional<MeasuredValue> measured = measured_value(evidence, mode, constraint);
    if (!measured) continue;
    const auto [of_one, exponent] = *measured;
    ConstraintResult& result = judged.verdict.constraints.emplace_back();
    result.name = constraint.name;
    result.limit = constraint.limit;
    result.unit = constraint.unit;
    const int count = largest(constraint.limit, of_one * std::pow(up, exponent), exponent);
    result.max_lamps_nominal = largest(constraint.limit, of_one, exponent);
    result.max_lamps = count;
    result.value = of_one * std::pow(up, exponent);
    result.holds = count >= 1;
    result.source = constraint.source + "; measured waveform only";
  }
  conclude(judged.verdict);
  const int shown = std::max(judged.verdict.max_lamps, 1);
  for (ConstraintResult& result : judged.verdict.constraints) {
    result.value *= std::pow(shown, result.name == "surge_i2t" ? 2.0 : 1.0);
    result.sentence = fmt::format(
        "{:.3g} {} with {} lamp{}, from the measured waveform only, in proportion to the count; "
        "at most {:.3g} {} is allowed",
        result.value, result.unit, shown, shown == 1 ? "" : "s", result.limit, result.unit);
  }
  judged.verdict.min_conduction_deg = judged.verdict.max_conduction_deg = steady->cut.conduction_angle_deg;
  judged.stress = steady->current_crest_factor.value_or(0.0);
  return judged;
}

}  // namespace lampload
