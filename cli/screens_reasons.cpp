#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cli/advice_output.h"
#include "cli/quantity.h"
#include "cli/screens.h"

namespace lampload {
namespace {

std::string with_stop(std::string text) {
  if (!text.empty() && text.back() != '.') text += '.';
  return text;
}

const ConstraintResult* find(const ModeVerdict& verdict, const std::string& name, bool failed_minimum) {
  const ConstraintResult* found = nullptr;
  for (const ConstraintResult& result : verdict.constraints) {
    if (result.name != name) continue;
    if (failed_minimum == (!result.max_lamps && !result.holds)) return &result;
    if (found == nullptr) found = &result;
  }
  return found;
}

/// What binds, with the share of its limit that is left, and what comes next.
void show_binding(Screen& screen, const ModeVerdict& verdict) {
  if (verdict.limited_by.empty()) return;
  const bool by_minimum =
      std::any_of(verdict.constraints.begin(), verdict.constraints.end(), [&](const ConstraintResult& result) {
        return result.name == verdict.limited_by && !result.max_lamps && !result.holds;
      });
  const ConstraintResult* binding = find(verdict, verdict.limited_by, by_minimum);
  if (binding == nullptr) return;
  std::string text = fmt::format("Binds: {}: {}", spoken(binding->name), spoken_sentence(binding->sentence));
  if (binding->max_lamps && *binding->max_lamps > 0 && binding->limit > 0.0 && binding->unit != "degC") {
    text += fmt::format(", {:.0f} % of it left", std::max(0.0, 100.0 * (1.0 - binding->value / binding->limit)));
  }
  text = with_stop(std::move(text));
  const ConstraintResult* next = find(verdict, verdict.next_limit, false);
  if (next != nullptr && next != binding && next->max_lamps) {
    text += fmt::format(" Next: {}, at {}.", spoken(next->name), lamps_in_words(*next->max_lamps));
  }
  screen.paragraph(text, 2);
}

/// From central values to the recommended count, margin by margin.
void show_cost(Screen& screen, const Advice& advice) {
  const Recommendation& r = advice.recommendation;
  if (!r.margins) return;
  const MarginCost& cost = *r.margins;
  if (cost.central == cost.with_spread) return;
  screen.paragraph(
      fmt::format(
          "Margins: {} with central values, {} with the supply at its tolerance, {} with what the captures leave "
          "open, {} with the spread between pieces ({}).",
          lamps_in_words(cost.central), cost.with_tolerance, cost.with_uncertainty, cost.with_spread,
          spread_in_words(r.spread)),
      2);
}

/// What was not measured, what that costs, and what would tell.
void show_not_measured(Screen& screen, const Advice& advice) {
  const Recommendation& r = advice.recommendation;
  std::vector<std::string> open;
  if (r.margins && r.spread.samples < 2 && r.margins->with_uncertainty > r.margins->with_spread) {
    open.push_back(fmt::format("how pieces of this lamp differ costs {}: measure two or three more (--sample)",
                               counted(r.margins->with_uncertainty - r.margins->with_spread, "lamp")));
  }
  if (r.margins && r.margins->with_tolerance > r.margins->with_uncertainty) {
    open.push_back(fmt::format("what the captures leave open costs {}",
                               counted(r.margins->with_tolerance - r.margins->with_uncertainty, "lamp")));
  }
  std::string text;
  for (const std::string& one : open) text += (text.empty() ? "Not measured: " : "; ") + one;
  text = with_stop(std::move(text));
  if (!advice.next_capture.empty()) {
    text += (text.empty() ? "Next capture: " : " Next capture: ") + with_stop(advice.next_capture);
  }
  if (!text.empty()) screen.paragraph(text, 2);
}

}  // namespace

void show_reasons(Screen& screen, const Advice& advice) {
  const Recommendation& r = advice.recommendation;
  if (!r.modes.empty()) show_binding(screen, r.modes.front());
  if (!r.raise_by.empty()) {
    screen.paragraph((r.mode == Mode::none ? "It would take: " : "To raise the count: ") + spoken_sentence(r.raise_by),
                     2);
  }
  show_cost(screen, advice);
  show_not_measured(screen, advice);
}

}  // namespace lampload
