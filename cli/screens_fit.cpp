#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "cli/quantity.h"
#include "cli/screens.h"
#include "core/lamp/lamp.h"

namespace lampload {
namespace {

std::string circuit_in_words(const std::string& family, const std::string& load_law) {
  return load_law.empty() ? spoken(family) : fmt::format("{} ({})", spoken(family), spoken(load_law));
}

/// No number of its own: the fit holds it where it has no effect.
bool is_held(const StoredEstimate& estimate) { return !estimate.identified && estimate.remark.starts_with("held at"); }
/// Of a part that the lamp does without.
bool is_absent(const StoredEstimate& estimate) {
  return !estimate.identified && estimate.remark.starts_with("absent:");
}

Table estimates(const std::vector<StoredEstimate>& list, const std::string& heading) {
  Table table({heading, "value", "standard uncertainty", "95 % interval", "remark"});
  for (const StoredEstimate& estimate : list) {
    if (is_held(estimate) || is_absent(estimate)) continue;
    const QuantityWithUncertainty text =
        quantity(estimate.value, estimate.identified ? estimate.standard_uncertainty : 0.0, estimate.lower_95,
                 estimate.upper_95, estimate.unit);
    table.add({spoken(estimate.name), estimate.identified ? text.value : "-", text.standard_uncertainty,
               text.interval_95, estimate.remark});
  }
  return table;
}

/// One line for each reason why parameters are held, with the bounds that hold all the same.
void show_held(Screen& screen, const std::vector<StoredEstimate>& parameters) {
  std::vector<std::pair<std::string, std::string>> reasons;
  for (const StoredEstimate& parameter : parameters) {
    if (!is_held(parameter)) continue;
    const QuantityWithUncertainty bound =
        quantity(parameter.value, 0.0, parameter.lower_95, parameter.upper_95, parameter.unit);
    const std::string name = fmt::format("{} ({})", spoken(parameter.name), bound.interval_95);
    const auto known = std::find_if(reasons.begin(), reasons.end(),
                                    [&](const auto& reason) { return reason.first == parameter.remark; });
    if (known == reasons.end()) {
      reasons.emplace_back(parameter.remark, name);
    } else {
      known->second.append(", ").append(name);
    }
  }
  for (const auto& [remark, names] : reasons) screen.paragraph(fmt::format("{}: {}", names, remark), 2);
}

}  // namespace

void show_fit(Screen& screen, const StoredFit& fit) {
  if (!fit.accepted) {
    screen.paragraph("Equivalent circuit: " + spoken_sentence(fit.verdict), 0, Style::warning);
    if (fit.family.empty()) return;
    screen.paragraph(fmt::format("The nearest family was {}; its figures below describe the captures badly.",
                                 circuit_in_words(fit.family, fit.load_law)));
  } else {
    screen.line("Equivalent circuit: " + circuit_in_words(fit.family, fit.load_law), Style::heading);
  }
  screen.table(estimates(fit.parameters, "parameter"), 2);
  show_held(screen, fit.parameters);
  if (!fit.derived.empty()) {
    screen.line();
    screen.table(estimates(fit.derived, "derived figure"), 2);
  }
  screen.line();
  screen.paragraph(fmt::format("Residual {} rms, {:.2f} times what the instrument's noise explains.",
                               quantity(fit.residual_rms_a, "A", 3), fit.normalised_residual),
                   2);
  if (!fit.rivals.empty()) {
    const StoredRival& runner_up = fit.rivals.front();
    const double distance = std::abs(runner_up.distance);
    screen.paragraph(fmt::format("Runner-up: {}, {:.{}f} {} on held-out cycles (information criterion).",
                                 circuit_in_words(runner_up.family, runner_up.load_law), distance,
                                 distance < 10.0 ? 1 : 0, runner_up.distance < 0.0 ? "ahead" : "behind"),
                     2);
  }
  for (const StoredEstimate& parameter : fit.parameters) {
    if (parameter.identified || is_held(parameter) || is_absent(parameter)) continue;
    screen.paragraph(fmt::format("Not identified: {}.", spoken(parameter.name)), 2);
  }
  show_contradictions(screen, fit);
  if (!fit.next_capture.empty()) screen.paragraph("Measure next: " + spoken_sentence(fit.next_sentence), 2);
}

std::string fit_in_short(const StoredFit& fit, const std::vector<StoredCapture>& captures) {
  if (!fit.accepted) return "no family describes this lamp";
  std::string text = circuit_in_words(fit.family, fit.load_law);
  if (!fit.load_spreads.empty()) {
    text += fmt::format(", mean of {}", counted(fit.load_spreads.front().samples, "sample"));
    for (const StoredEstimate& figure : fit.derived) {
      if (figure.name == "rated_power_w") text += fmt::format(", {}", quantity(figure.value, figure.unit, 3));
    }
    return text;
  }
  // The least cut capture stands for the lamp at full power; on DC, what it takes while it is fed.
  const StoredCapture* open = least_cut(captures);
  if (open != nullptr && open->figures.direct) {
    const Direct& direct = *open->figures.direct;
    text += fmt::format(", {} at {} DC", quantity(direct.on_voltage_v * direct.on_current_a, "W", 3),
                        quantity(direct.on_voltage_v, "V", 3));
  } else if (open != nullptr) {
    text += fmt::format(", {} at {}", quantity(open->figures.active_power_w, "W", 3),
                        quantity(open->figures.voltage_rms_v, "V", 3));
  }
  return text;
}

}  // namespace lampload
