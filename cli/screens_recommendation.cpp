#include <fmt/format.h>

#include "cli/advice_output.h"
#include "cli/quantity.h"
#include "cli/screens.h"
#include "core/advice/count_search.h"

namespace lampload {
namespace {

std::string verdict_in_words(Mode mode, int max_lamps, int max_lamps_nominal, const std::string& limited_by) {
  std::string text = fmt::format("{}, at most {} ({} with central values)", mode_in_words(mode),
                                 lamps_in_words(max_lamps), max_lamps_nominal);
  if (!limited_by.empty()) text += ", limited by " + spoken(limited_by);
  return text;
}

void show_constraints(Screen& screen, const ModeVerdict& verdict) {
  screen.table(constraints_table(verdict), 2);
  for (const ConstraintResult& constraint : verdict.constraints) {
    if (constraint.advice) continue;  // among the cautions
    if (!constraint.sentence.empty() && !constraint.holds && constraint.name != verdict.limited_by) {
      screen.paragraph(spoken(constraint.name) + ": " + spoken_sentence(constraint.sentence), 2,
                       constraint.holds ? Style::plain : Style::bad);
    }
  }
}

}  // namespace

std::string lamps_in_words(int lamps) {
  return lamps >= most_lamps ? fmt::format("{} lamps or more", lamps) : counted(lamps, "lamp");
}

Table constraints_table(const ModeVerdict& verdict) {
  Table table({"constraint", "value", "limit", "lamps", "holds", "source"});
  for (const ConstraintResult& constraint : verdict.constraints) {
    std::string lamps = "-";
    if (constraint.max_lamps) {
      lamps =
          *constraint.max_lamps >= most_lamps ? fmt::format("{}+", most_lamps) : std::to_string(*constraint.max_lamps);
    }
    table.add({spoken(constraint.name), quantity(constraint.value, constraint.unit, 3),
               quantity(constraint.limit, constraint.unit, 3), lamps,
               constraint.holds    ? "yes"
               : constraint.advice ? "no (advice)"
                                   : "NO",
               constraint.source});
  }
  return table;
}

const char* mode_in_words(Mode mode) {
  switch (mode) {
    case Mode::leading_edge:
      return "leading edge";
    case Mode::trailing_edge:
      return "trailing edge";
    case Mode::on_off:
      return "on/off only";
    case Mode::dc_pwm:
      return "DC pulse width";
    case Mode::dc_constant_current:
      return "DC constant current";
    case Mode::none:
      break;
  }
  return "none";
}

std::string recommendation_in_short(const Recommendation& r) {
  if (r.mode == Mode::none) {
    const std::string why = r.limited_by.empty() ? "" : ": " + spoken(r.limited_by);
    return "no mode of this channel suits this lamp" + why;
  }
  return verdict_in_words(r.mode, r.max_lamps, r.max_lamps_nominal, r.limited_by);
}

void show_recommendation(Screen& screen, const Advice& advice, bool from_waveform_alone) {
  const Recommendation& r = advice.recommendation;
  screen.paragraph(fmt::format("Channel {}: {}", r.channel, recommendation_in_short(r)), 0, Style::heading);
  if (from_waveform_alone) {
    screen.paragraph("From the measured waveform alone: no circuit stands behind the counts.", 2, Style::warning);
  }
  show_reasons(screen, advice);
  if (r.mode == Mode::leading_edge || r.mode == Mode::trailing_edge) {
    screen.paragraph(fmt::format("Firmware may use conduction angles from {:.0f} to {:.0f} deg of each half cycle.",
                                 r.min_conduction_deg, r.max_conduction_deg),
                     2);
  }
  const std::string reason = r.confidence_reason.empty() ? "" : ": " + r.confidence_reason;
  screen.paragraph(fmt::format("Confidence: {}{}.", r.confidence, reason), 2);
  if (!r.modes.empty()) {
    screen.line();
    screen.line(fmt::format("  Constraints, {}", mode_in_words(r.modes.front().mode)), Style::heading);
    show_constraints(screen, r.modes.front());
    if (!advice.table.empty()) {
      screen.line();
      show_count_table(screen, advice);
    }
  }
  if (r.modes.size() > 1) {
    screen.line();
    screen.line("  Other modes", Style::heading);
    for (std::size_t i = 1; i < r.modes.size(); ++i) {
      const ModeVerdict& v = r.modes[i];
      screen.paragraph(verdict_in_words(v.mode, v.max_lamps, v.max_lamps_nominal, v.limited_by), 2);
    }
  }
  if (!r.not_checked.empty()) {
    screen.line();
    screen.line("  Not checked", Style::heading);
    for (const std::string& what : r.not_checked) screen.paragraph(spoken_sentence(what), 2);
  }
  screen.line();
  for (const std::string& caution : r.cautions) screen.paragraph(spoken_sentence(caution), 2, Style::warning);
}

}  // namespace lampload
