#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "cli/plan_output.h"
#include "cli/quantity.h"
#include "cli/screens.h"

namespace lampload {
namespace {

std::string share(double use) { return std::isfinite(use) ? fmt::format("{:.0f} %", 100.0 * use) : "-"; }

}  // namespace

std::string plan_in_short(const PlanVerdict& verdict) {
  const auto channels = std::count_if(verdict.channels.begin(), verdict.channels.end(),
                                      [](const ChannelVerdict& one) { return !one.check.holds; });
  const auto breakers = std::count_if(verdict.breakers.begin(), verdict.breakers.end(),
                                      [](const BreakerVerdict& one) { return !one.holds; });
  const std::string all = fmt::format("{}, {}", counted(static_cast<int>(verdict.channels.size()), "channel"),
                                      counted(static_cast<int>(verdict.breakers.size()), "breaker"));
  if (verdict.holds) return fmt::format("holds: {}", all);
  std::string what;
  if (channels > 0)
    what += fmt::format("{} of {}", channels, counted(static_cast<int>(verdict.channels.size()), "channel"));
  if (breakers > 0) {
    what += fmt::format("{}{} of {}", what.empty() ? "" : " and ", breakers,
                        counted(static_cast<int>(verdict.breakers.size()), "breaker"));
  }
  return fmt::format("does NOT hold: {}", what);
}

std::string loads_in_words(const std::vector<LoadItem>& lamps) {
  std::string text;
  for (const LoadItem& item : lamps) {
    text += fmt::format("{}{} x {}", text.empty() ? "" : ", ", item.count, item.evidence.name);
  }
  return text;
}

std::string fullest_in_words(const LoadCheck& check) {
  for (const CheckedConstraint& constraint : check.constraints) {
    if (constraint.name != check.limited_by) continue;
    return constraint.minimum || constraint.unit.empty()
               ? spoken(constraint.name)
               : fmt::format("{}, {}", spoken(constraint.name), share(constraint.use()));
  }
  return "-";
}

std::string starts_in_words(const BreakerVerdict& breaker) {
  double most = 0.0;
  double limit = 0.0;
  for (const StartVerdict& start : breaker.starts) {
    most = std::max(most, start.inrush.value);
    limit = start.inrush.limit;
  }
  return breaker.starts.empty() ? "-" : fmt::format("{} of {}", quantity(most, "A", 3), quantity(limit, "A", 3));
}

std::string stagger_in_words(const BreakerVerdict& breaker) {
  std::optional<double> least = 0.0;
  double planned = 0.0;
  for (const StartVerdict& start : breaker.starts) {
    planned = start.stagger_s;
    if (!start.least_stagger_s) return start.channels.size() > 1 || !start.inrush.holds ? "none is enough" : "-";
    least = std::max(*least, *start.least_stagger_s);
  }
  if (*least == 0.0) return "not needed";
  return fmt::format("{} needed, {}", quantity(*least, "s", 2),
                     planned > 0.0 ? quantity(planned, "s", 2) + " planned" : std::string("none planned"));
}

void show_channel_fault(Screen& screen, const ChannelVerdict& one) {
  screen.paragraph(fmt::format("{}, {}{}", one.channel, mode_in_words(one.check.mode),
                               one.mode_chosen ? " (no mode of it holds; this one misses least)" : ""),
                   2, Style::bad);
  for (const CheckedConstraint& constraint : one.check.constraints) {
    if (constraint.holds) continue;
    const std::string nominal = constraint.holds_nominal ? ". With central values it holds" : "";
    screen.paragraph(fmt::format("{}: {}{}.", spoken(constraint.name), spoken_sentence(constraint.sentence), nominal),
                     4);
  }
  for (const Remedy& remedy : one.remedies) screen.paragraph("Suggested: " + spoken_sentence(remedy.sentence) + ".", 4);
  if (one.remedies.empty()) {
    screen.paragraph(
        "Nothing that was tried helps: other modes, the zero crossing, two to four channels, other counts.", 4);
  }
}

void show_breaker_fault(Screen& screen, const BreakerVerdict& one) {
  screen.paragraph(fmt::format("breaker {} ({})", one.name, one.board), 2, Style::bad);
  if (!one.load.holds) screen.paragraph(spoken_sentence(one.load.sentence) + ".", 4);
  for (const StartVerdict& start : one.starts) {
    if (!start.inrush.holds) screen.paragraph("Inrush: " + spoken_sentence(start.inrush.sentence) + ".", 4);
  }
  for (const std::string& suggestion : one.suggestions) {
    screen.paragraph("Suggested: " + spoken_sentence(suggestion) + ".", 4);
  }
}

namespace {

void show_channels(Screen& screen, const Installation& plan, const PlanVerdict& verdict) {
  Table table({"room", "channel", "lamps", "mode", "fullest limit", "holds"});
  for (std::size_t i = 0; i < verdict.channels.size(); ++i) {
    const ChannelVerdict& one = verdict.channels[i];
    table.add({one.room, one.channel, loads_in_words(plan.channels[i].lamps), mode_in_words(one.check.mode),
               fullest_in_words(one.check), one.check.holds ? "yes" : "NO"});
  }
  screen.table(table, 2);
}

void show_breakers(Screen& screen, const PlanVerdict& verdict) {
  Table table({"board", "breaker", "channels", "load", "start", "stagger", "holds"});
  for (const BreakerVerdict& one : verdict.breakers) {
    table.add({one.board, fmt::format("{}, {} {:g} A", one.name, one.breaker.curve, one.breaker.rating_a),
               std::to_string(one.channels.size()),
               fmt::format("{} of {}", quantity(one.load.value, "A", 3), quantity(one.load.limit, "A", 3)),
               starts_in_words(one), stagger_in_words(one), one.holds ? "yes" : "NO"});
  }
  screen.table(table, 2);
}

/// What many channels have in common is said once, with the number of them.
void show_once(Screen& screen, const std::vector<std::string>& sentences, std::size_t channels, Style style) {
  std::vector<std::string> order;
  std::map<std::string, std::size_t> times;
  for (const std::string& sentence : sentences) {
    if (times[sentence]++ == 0) order.push_back(sentence);
  }
  for (const std::string& sentence : order) {
    const bool all = times[sentence] >= channels;
    screen.paragraph(spoken_sentence(sentence) +
                         (all || channels < 2 ? "" : fmt::format(" ({} of {} channels)", times[sentence], channels)),
                     2, style);
  }
}

}  // namespace

void show_plan(Screen& screen, const Installation& plan, const PlanVerdict& verdict) {
  screen.line(fmt::format("{}: {}", plan.name, plan_in_short(verdict)), verdict.holds ? Style::good : Style::bad);
  screen.line();
  screen.line("Channels", Style::heading);
  show_channels(screen, plan, verdict);
  if (!verdict.breakers.empty()) {
    screen.line();
    screen.line("Breakers", Style::heading);
    show_breakers(screen, verdict);
  }
  if (!verdict.holds) {
    screen.line();
    screen.line("What does not hold", Style::heading);
    for (const ChannelVerdict& one : verdict.channels) {
      if (!one.check.holds) show_channel_fault(screen, one);
    }
    for (const BreakerVerdict& one : verdict.breakers) {
      if (!one.holds) show_breaker_fault(screen, one);
    }
  }
  std::vector<std::string> not_checked;
  std::vector<std::string> cautions;
  for (const ChannelVerdict& one : verdict.channels) {
    not_checked.insert(not_checked.end(), one.check.not_checked.begin(), one.check.not_checked.end());
    cautions.insert(cautions.end(), one.check.cautions.begin(), one.check.cautions.end());
  }
  if (!not_checked.empty()) {
    screen.line();
    screen.line("Not checked", Style::heading);
    show_once(screen, not_checked, verdict.channels.size(), Style::plain);
  }
  for (const BreakerVerdict& one : verdict.breakers) {
    for (const std::string& what : one.not_checked) screen.paragraph(spoken_sentence(what), 2);
  }
  screen.line();
  show_once(screen, cautions, verdict.channels.size(), Style::warning);
  screen.paragraph("This is advice from a model. Local codes and licensed practice come first.", 2, Style::warning);
}

}  // namespace lampload
