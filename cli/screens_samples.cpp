#include <fmt/format.h>

#include <algorithm>

#include "cli/fitting.h"
#include "cli/quantity.h"
#include "cli/screens.h"

namespace lampload {
namespace {

std::string per_cent(double share) {
  constexpr double nothing = 1e-5;
  constexpr double two_digits = 0.995;  // from here on they would be written with an exponent
  if (share < nothing) return "0 %";
  return share < two_digits ? fmt::format("{:.2g} %", 100.0 * share) : fmt::format("{:.0f} %", 100.0 * share);
}

std::string interval(double lower, double upper) {
  return fmt::format("{:.2g} to {:.2g} %", 100.0 * lower, 100.0 * upper);
}

void add_spreads(Table& table, const std::vector<StoredSpread>& spreads) {
  for (const StoredSpread& one : spreads) {
    table.add({spoken(one.name), per_cent(one.spread), interval(one.lower_95, one.upper_95), per_cent(one.measured),
               per_cent(one.usual_share)});
  }
}

/// One column a sample: what each was fitted with.
void show_values(Screen& screen, const StoredFit& fit) {
  constexpr std::size_t most_columns = 6;
  if (fit.samples.size() > most_columns) return;
  std::vector<std::string> heading{"parameter"};
  for (const StoredFit& sample : fit.samples) heading.push_back(sample.sample);
  Table table(heading);
  for (const StoredEstimate& parameter : fit.parameters) {
    std::vector<std::string> row{spoken(parameter.name)};
    bool any = false;
    for (const StoredFit& sample : fit.samples) {
      const auto found = std::find_if(sample.parameters.begin(), sample.parameters.end(),
                                      [&](const StoredEstimate& one) { return one.name == parameter.name; });
      const bool known = found != sample.parameters.end() && found->identified;
      row.push_back(known ? quantity(found->value, found->unit, 4) : "-");
      any = any || known;
    }
    if (any) table.add(row);
  }
  if (!table.empty()) screen.table(table, 2);
}

}  // namespace

std::string spread_in_words(const LoadSpread& spread) {
  if (spread.source == "default") {
    return fmt::format("{}, what is usual (common practice, no source): {} was measured",
                       per_cent(spread.continuous_current.spread), counted(spread.samples, "sample"));
  }
  return fmt::format("rms current {}, repetitive peak {}, surge peak {}, from {}{}",
                     per_cent(spread.continuous_current.spread), per_cent(spread.repetitive_peak.spread),
                     per_cent(spread.surge_peak.spread), counted(spread.samples, "sample"),
                     spread.source == "mixture" ? " and what is usual (common practice, no source)" : "");
}

void show_samples(Screen& screen, const StoredFit& fit) {
  if (!fit.samples.empty()) {
    screen.line();
    screen.line("Samples", Style::heading);
    show_values(screen, fit);
    for (const StoredFit& sample : fit.samples) {
      if (!sample.accepted) {
        screen.paragraph(fmt::format("{} is left out: {}", sample.sample, spoken_sentence(sample.verdict)), 2,
                         Style::warning);
      }
      show_contradictions(screen, sample);
    }
    screen.line();
  }
  if (!fit.accepted) return;
  if (!fit.load_spreads.empty()) {
    Table table({"between samples", "spread", "95 % interval", "measured alone", "share of what is usual"});
    add_spreads(table, fit.load_spreads);
    add_spreads(table, fit.parameter_spreads);
    add_spreads(table, fit.derived_spreads);
    screen.table(table, 2);
  }
  screen.paragraph("Spread between samples: " + spread_in_words(load_spread_of(fit)) + ".", 2);
}

}  // namespace lampload
