#include <fmt/format.h>

#include <algorithm>

#include "cli/advice_output.h"
#include "cli/quantity.h"
#include "cli/screens.h"

namespace lampload {
namespace {

constexpr std::size_t most_named = 12;

}  // namespace

void show_ranking(Screen& screen, const std::string& lamp, const std::vector<Advice>& advice) {
  const auto suited = std::count_if(advice.begin(), advice.end(),
                                    [](const Advice& one) { return one.recommendation.mode != Mode::none; });
  const int channels = static_cast<int>(advice.size());
  if (suited == 0) {
    screen.paragraph(fmt::format("{}: none of {} takes it", lamp, counted(channels, "channel")), 0, Style::bad);
  } else {
    const Recommendation& best = advice.front().recommendation;
    screen.paragraph(fmt::format("{}: {} of {} {} it, best {}: {}", lamp, suited, counted(channels, "channel"),
                                 suited == 1 ? "takes" : "take", best.channel, recommendation_in_short(best)),
                     0, Style::good);
  }
  screen.line();
  Table table({"channel", "mode", "lamps", "central values", "limited by", "confidence"});
  for (const Advice& one : advice) {
    const Recommendation& r = one.recommendation;
    const bool none = r.mode == Mode::none;
    table.add({r.channel, none ? "none" : mode_in_words(r.mode), none ? "-" : std::to_string(r.max_lamps),
               none ? "-" : std::to_string(r.max_lamps_nominal), r.limited_by.empty() ? "-" : spoken(r.limited_by),
               none ? "-" : r.confidence});
  }
  screen.table(table, 2);
}

void show_lamps_for_channel(Screen& screen, const LampsForChannel& found) {
  const auto suited = std::count_if(found.lamps.begin(), found.lamps.end(),
                                    [](const LampForChannel& one) { return one.max_lamps > 0; });
  const int all = static_cast<int>(found.lamps.size());
  screen.paragraph(all == 0      ? fmt::format("{}: there is no lamp to hold against it", found.channel)
                   : suited == 0 ? fmt::format("{}: none of {} suits it", found.channel, counted(all, "lamp"))
                                 : fmt::format("{}: {} of {} suit{} it", found.channel, suited, counted(all, "lamp"),
                                               suited == 1 ? "s" : ""),
                   0, suited == 0 ? Style::bad : Style::good);
  const bool received = std::any_of(found.lamps.begin(), found.lamps.end(),
                                    [](const LampForChannel& one) { return one.trust != Trust::own; });
  std::vector<std::string> headings = {"lamp", "family", "mode", "lamps", "central values", "limited by"};
  if (received) headings.emplace_back("source");
  Table table(headings);
  for (const LampForChannel& one : found.lamps) {
    const bool none = one.max_lamps == 0;
    table.add({one.lamp, spoken(one.family), none ? "none" : mode_in_words(one.mode),
               none ? "-" : std::to_string(one.max_lamps), none ? "-" : std::to_string(one.max_lamps_nominal),
               one.limited_by.empty() ? "-" : spoken(one.limited_by), trust_in_words(one.trust)});
  }
  if (!table.empty()) {
    screen.line();
    screen.table(table, 2);
  }
  if (!found.others.empty()) {
    screen.line();
    screen.line("Not looked at", Style::heading);
    for (std::size_t i = 0; i < std::min(found.others.size(), most_named); ++i) {
      screen.paragraph(fmt::format("{}: {}", found.others[i].lamp, found.others[i].why), 2);
    }
    if (found.others.size() > most_named) {
      screen.paragraph(fmt::format("and {} more", found.others.size() - most_named), 2);
    }
  }
  if (!found.not_checked.empty()) {
    screen.line();
    screen.line("Not checked", Style::heading);
    for (const std::string& what : found.not_checked) screen.paragraph(spoken_sentence(what), 2);
  }
  screen.line();
  screen.paragraph(
      "An estimate to choose by: figures stored with each fit, in proportion to the count. 'lampload recommend LAMP' "
      "simulates the lamps on the channel and decides. This is advice from a model. Local codes and licensed practice "
      "come first.",
      2, Style::warning);
}

void show_count_table(Screen& screen, const Advice& advice) {
  if (advice.table.empty()) return;
  std::vector<std::string> headings{"lamps"};
  for (const CheckedConstraint& constraint : advice.table.front().constraints) {
    if (constraint.advice) continue;
    headings.push_back(spoken(constraint.name));
  }
  headings.emplace_back("holds");
  Table table(headings);
  for (std::size_t i = 0; i < advice.table.size(); ++i) {
    const LoadCheck& check = advice.table[i];
    std::vector<std::string> row{std::to_string(advice.counts[i])};
    for (const CheckedConstraint& constraint : check.constraints) {
      if (constraint.advice) continue;
      row.push_back(quantity(constraint.value, constraint.unit, 3) + (constraint.holds ? "" : " !"));
    }
    row.resize(headings.size() - 1, "-");
    row.emplace_back(check.holds ? "yes" : check.holds_nominal ? "only with central values" : "NO");
    table.add(row);
  }
  std::vector<std::string> limits{"limit"};
  for (const CheckedConstraint& constraint : advice.table.front().constraints) {
    if (constraint.advice) continue;
    limits.push_back((constraint.minimum ? "at least " : "") + quantity(constraint.limit, constraint.unit, 3));
  }
  limits.emplace_back("");
  table.add(limits);
  screen.table(table, 2);
}

}  // namespace lampload
