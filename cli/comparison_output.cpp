#include "cli/comparison_output.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "cli/json_text.h"
#include "cli/quantity.h"
#include "cli/screens.h"

namespace lampload {
namespace {

using Json = nlohmann::ordered_json;

std::string answer(const Comparison& made) {
  const Compared* worst = made.worst();
  if (worst == nullptr) return "as predicted";
  return fmt::format("{} is {} the prediction, which allows for {} to {}", spoken(worst->name), worst->off_in_words(),
                     quantity(worst->lower, worst->unit, 3), quantity(worst->upper, worst->unit, 3));
}

void show_values(Screen& screen, const std::string& heading, const std::vector<Compared>& values, bool with_limit) {
  if (values.empty()) return;
  std::vector<std::string> headings{heading, "measured", "predicted", "allowed for", "off", "agrees"};
  if (with_limit) headings.emplace_back("limit");
  Table table(headings);
  for (const Compared& one : values) {
    const bool input = one.name == "conduction_angle";  // the prediction is made for it; the channel says its range
    std::vector<std::string> row{
        spoken(one.name),
        quantity(one.measured, one.unit, 3),
        input ? "-" : quantity(one.predicted, one.unit, 3),
        fmt::format("{} to {}", quantity(one.lower, one.unit, 3), quantity(one.upper, one.unit, 3)),
        input ? "-" : one.off_in_words(),
        one.agrees() ? "yes" : "NO"};
    if (with_limit) row.push_back(quantity(*one.limit, one.unit, 3));
    table.add(row);
  }
  screen.table(table, 2);
}

Json json_of(const std::vector<Compared>& values) {
  Json list = Json::array();
  for (const Compared& one : values) {
    list.push_back({{"name", one.name},
                    {"measured", one.measured},
                    {"predicted", one.predicted},
                    {"interval", {one.lower, one.upper}},
                    {"unit", one.unit},
                    {"limit", one.limit ? Json(*one.limit) : Json(nullptr)},
                    {"off", one.off()},
                    {"agrees", one.agrees()}});
  }
  return list;
}

}  // namespace

std::string comparison_in_short(const StoredComparison& stored) {
  const Comparison& made = stored.comparison;
  return fmt::format("{} on {}, {}, {}: {}", made.count, made.channel, mode_in_words(made.mode),
                     stored.provenance.time_utc.substr(0, 10), answer(made));
}

void show_comparisons(Screen& screen, const std::vector<NamedLamps>& lamps,
                      const std::vector<StoredComparison>& comparisons, bool stored) {
  const auto apart = std::count_if(comparisons.begin(), comparisons.end(),
                                   [](const StoredComparison& one) { return !one.comparison.agrees(); });
  const int captures = static_cast<int>(comparisons.size());
  const std::string found = apart == 0
                                ? std::string("as predicted")
                                : fmt::format("not as predicted in {} of {}", apart, counted(captures, "capture"));
  screen.line(fmt::format("{} on {}: {}", lamps_in_words(lamps), comparisons.front().comparison.channel, found),
              apart == 0 ? Style::good : Style::bad);
  for (const StoredComparison& one : comparisons) {
    const Comparison& made = one.comparison;
    screen.line();
    screen.paragraph(fmt::format("{}: {}", one.file, answer(made)), 0, Style::heading);
    screen.paragraph(fmt::format("{}, {:.0f} deg conduction, supply {}{}", mode_in_words(made.mode),
                                 made.conduction_deg, quantity(made.supply_v, "V", 4),
                                 made.phase_deg ? fmt::format(", switched on at {:.0f} deg", *made.phase_deg) : ""),
                     2);
    show_values(screen, "figure", made.figures, false);
    screen.line();
    show_values(screen, "constraint", made.constraints, true);
    for (const std::string& caution : made.cautions) screen.paragraph(caution, 2, Style::warning);
  }
  screen.line();
  const char* const kept =
      stored             ? (apart == 0
                                ? "Kept as evidence: later recommendations for this lamp are surer in this mode."
                                : "Kept as evidence: later recommendations for this lamp say so, and are less sure in this mode.")
      : lamps.size() > 1 ? "Nothing was stored: one current does not tell which of several kinds of lamps is off."
                         : "Nothing was stored.";
  screen.paragraph(kept, 2);
  screen.paragraph("Only what a capture shows is compared, and at its operating point: the worst one is not among it.",
                   2);
}

std::string comparison_json(const std::vector<NamedLamps>& lamps, const std::vector<StoredComparison>& comparisons) {
  Json list = Json::array();
  bool agree = true;
  for (const StoredComparison& one : comparisons) {
    const Comparison& made = one.comparison;
    agree = agree && made.agrees();
    list.push_back({{"file", one.file},
                    {"channel", made.channel},
                    {"mode", mode_name(made.mode)},
                    {"count", made.count},
                    {"conduction_angle_deg", made.conduction_deg},
                    {"supply_v", made.supply_v},
                    {"phase_deg", made.phase_deg ? Json(*made.phase_deg) : Json(nullptr)},
                    {"agrees", made.agrees()},
                    {"mispredicted", made.worst() != nullptr ? Json(made.worst()->name) : Json(nullptr)},
                    {"figures", json_of(made.figures)},
                    {"constraints", json_of(made.constraints)},
                    {"cautions", made.cautions}});
  }
  Json kinds = Json::array();
  for (const NamedLamps& one : lamps) kinds.push_back({{"lamp", one.name}, {"count", one.count}});
  const Json document = {{"lamp", lamps.size() == 1 ? Json(lamps.front().name) : Json(nullptr)},
                         {"lamps", std::move(kinds)},
                         {"agrees", agree},
                         {"comparisons", std::move(list)},
                         {"cautions", cautions_of(lamps)}};
  return document_text(document);
}

}  // namespace lampload
