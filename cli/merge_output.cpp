#include "cli/merge_output.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "cli/basis.h"
#include "cli/json_text.h"
#include "cli/quantity.h"
#include "cli/sharing_output.h"

namespace lampload {
namespace {

using Json = nlohmann::ordered_json;
using Outcome = Receipt::Outcome;

struct MergeSummary {
  int fresh = 0, unchanged = 0, differing = 0;
};

MergeSummary summary_of(const LibraryMerge& merge) {
  MergeSummary sum;
  for (const MergedLamp& one : merge.lamps) {
    if (!one.refused.empty()) continue;
    const Outcome outcome = one.receipt.outcome;
    ++(outcome == Outcome::added ? sum.fresh : outcome == Outcome::unchanged ? sum.unchanged : sum.differing);
  }
  return sum;
}

Json json_of(const Receipt& receipt, const char* what) {
  return {{what, receipt.name},
          {"outcome", outcome_name(receipt)},
          {"stored_as", known(receipt.stored_as)},
          {"remark", known(receipt.remark)}};
}

Json json_of(const std::vector<Receipt>& receipts, const char* what) {
  Json list = Json::array();
  for (const Receipt& one : receipts) list.push_back(json_of(one, what));
  return list;
}

void show_others(Screen& screen, const std::vector<Receipt>& receipts, const std::string& what) {
  for (const Receipt& one : receipts) {
    if (one.outcome == Outcome::unchanged && one.remark.empty()) continue;
    const bool renamed = !one.stored_as.empty() && one.stored_as != one.name;
    screen.paragraph(fmt::format("{} {}: {}{}{}", what, one.name, outcome_in_words(one),
                                 renamed ? ", as " + one.stored_as : "", one.remark.empty() ? "" : "; " + one.remark),
                     2);
  }
}

}  // namespace

std::string merge_json(const std::string& library, const std::string& other, const LibraryMerge& merge, bool dry_run) {
  Json lamps = Json::array();
  for (const MergedLamp& one : merge.lamps) {
    Json json = json_of(one.receipt, "lamp");
    json["trust"] = trust_name(one.trust);
    json["superseded"] = one.superseded;
    json["refused"] = known(one.refused);
    lamps.push_back(std::move(json));
  }
  const MergeSummary sum = summary_of(merge);
  return document_text({{"library", library},
                        {"other", other},
                        {"dry_run", dry_run},
                        {"stored", merge.stored},
                        {"lamps", std::move(lamps)},
                        {"channels", json_of(merge.channels, "channel")},
                        {"keys", json_of(merge.keys, "key")},
                        {"summary",
                         {{"new", sum.fresh},
                          {"unchanged", sum.unchanged},
                          {"differing", sum.differing},
                          {"refused", merge.refused()}}}});
}

void show_merge(Screen& screen, const LibraryMerge& merge, bool dry_run) {
  const MergeSummary sum = summary_of(merge);
  const int bad = static_cast<int>(merge.refused());
  screen.line(fmt::format("{}{} new, {} unchanged, {} differing, {} refused", dry_run ? "(dry run) " : "", sum.fresh,
                          sum.unchanged, sum.differing, counted(bad, "lamp")),
              bad > 0 ? Style::bad : Style::good);
  Table table({"lamp", "in the library", "stored as", "source"});
  for (const MergedLamp& one : merge.lamps) {
    const Receipt& receipt = one.receipt;
    if (receipt.outcome == Outcome::unchanged && one.refused.empty()) continue;
    table.add({receipt.name, one.refused.empty() ? outcome_in_words(receipt) : "REFUSED",
               receipt.stored_as.empty() || !one.refused.empty() ? "-" : receipt.stored_as, trust_in_words(one.trust)});
  }
  if (!table.empty()) screen.table(table, 2);
  for (const MergedLamp& one : merge.lamps) {
    if (!one.refused.empty()) {
      screen.paragraph("refused: " + one.refused, 2, Style::bad);
    } else if (!one.receipt.remark.empty()) {
      screen.paragraph(fmt::format("{}: {}", one.receipt.name, one.receipt.remark), 2);
    }
  }
  show_others(screen, merge.channels, "channel");
  show_others(screen, merge.keys, "signer");
  if (bad > 0) {
    screen.paragraph(
        "Nothing was stored: one refused lamp holds back all. Remove it there, or accept its signer again.", 2,
        Style::bad);
  } else if (merge.own > 0) {
    screen.paragraph(fmt::format("{} measured there {} as measured here{}. Of a library that is not your own, take "
                                 "lamps with 'share' and 'receive' instead.",
                                 counted(static_cast<int>(merge.own), "lamp"),
                                 dry_run          ? "would count"
                                 : merge.own == 1 ? "counts"
                                                  : "count",
                                 dry_run ? "" : " from now on"),
                     2);
  }
}

}  // namespace lampload
