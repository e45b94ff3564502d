// Advice from the measured waveform alone, where no lamp family describes it.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/advice/count_search.h"
#include "core/advice/verdict.h"

namespace lampload {
namespace {

const Figures* captured(const LampEvidence& evidence, Mode mode) {
  const Edge edge = mode == Mode::leading_edge    ? Edge::leading
                    : mode == Mode::trailing_edge ? Edge::trailing
                                                  : Edge::none;
  const Figures* best = nullptr;
  for (const Figures& figures : evidence.measured) {
    if (figures.cut.edge == edge && (best == nullptr || figures.current_peak_a > best->current_peak_a)) best = &figures;
  }
  return best;
}

const Inrush* worst_inrush(const LampEvidence& evidence) {
  const Inrush* worst = nullptr;
  for (const Figures& figures : evidence.measured) {
    if (figures.inrush && (worst == nullptr || figures.inrush->peak_a > worst->peak_a)) worst = &*figures.inrush;
  }
  return worst;
}

int largest(double limit, double of_one, double exponent) {
  if (!(of_one > 0.0)) return most_lamps;
  return static_cast<int>(std::clamp(std::floor(std::pow(limit / of_one, 1.0 / exponent)), 0.0, 1.0 * most_lamps));
}

}  // namespace

// Currents are taken in proportion to the count, as if source and cable had no impedance: the safe side. Only what a
// waveform says directly is judged: rms, repetitive peak, inrush and I2t.
std::optional<JudgedMode> judge_measured(const LampEvidence& evidence, const Channel& channel, Mode mode,
                                         const std::vector<Constraint>& constraints) {
  const Figures* steady = captured(evidence, mode);
  if (steady == nullptr) return std::nullopt;
  const Inrush* inrush = worst_inrush(evidence);
  const double up = (1.0 + 2.0 * usual_spread) * (1.0 + channel.supply.tolerance_percent / 100.0);

  JudgedMode judged;
  judged.verdict.mode = mode;
  for (const Constraint& constraint : constraints) {
    const bool quadratic = constraint.name == "surge_i2t";
    double of_one = 0.0;
    if (constraint.name == "continuous_current" || constraint.name == "breaker_load") {
      of_one = steady->current_rms_a;
    } else if (constraint.name == "repetitive_peak") {
      of_one = steady->current_peak_a;
    } else if (inrush != nullptr && (constraint.name == "surge_peak" || constraint.name == "breaker_trip")) {
      of_one = inrush->peak_a;
    } else if (inrush != nullptr && quadratic) {
      of_one = inrush->i2t_a2s;
    } else {
      continue;
    }
    const double exponent = quadratic ? 2.0 : 1.0;
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
