#include "cli/advice.h"

#include <fmt/format.h>

#include <algorithm>
#include <thread>
#include <tuple>
#include <utility>

#include "cli/fitting.h"
#include "core/advice/screening.h"
#include "core/lamp/lamp.h"
#include "core/parallel.h"

namespace lampload {
namespace {

/// 1, 2, 3, ... where a dozen is enough, else evenly spaced up to the last.
std::vector<int> counts_to(int last) {
  constexpr int most_rows = 12;
  std::vector<int> counts;
  const int rows = std::min(last, most_rows);
  for (int row = 1; row <= rows; ++row) {
    const int count = rows == last ? row : 1 + (row - 1) * (last - 1) / (rows - 1);
    counts.push_back(count);
  }
  return counts;
}

bool dims(Mode mode) { return mode != Mode::on_off && mode != Mode::none; }

/// Null where no circuit is known of the lamp.
const FamilyInfo* family_of(const LampScreening& lamp) {
  for (const FamilyInfo& family : lamp_families()) {
    if (family.name == lamp.family && family.load_law == lamp.load_law) return &family;
  }
  return nullptr;
}

/// Without a look at the captures: whether such lamps can be fed with DC at all.
bool may_take_dc(const LampScreening& lamp) {
  const FamilyInfo* family = family_of(lamp);
  return family != nullptr && fed_by_dc(family->feed);
}

void look_at_circuits(const Channel& channel, const Library& library, const LabelOption& label,
                      LampsForChannel& found) {
  for (const LampScreening& known : library.screening()) {
    if (!may_take_dc(known)) {
      found.others.push_back({known.lamp, known.family.empty() ? "no circuit is known of it" : "it is fed with mains"});
      continue;
    }
    const LampRecord record = library.lamp(known.lamp);
    Nominal nominal = record.nominal;
    if (label.given) nominal.label_dimmable = label.dimmable;
    const Recommendation r = recommend(evidence_of(record, nominal), channel);
    found.lamps.push_back(
        {known.lamp, known.family, r.mode, r.max_lamps, r.max_lamps_nominal, r.limited_by, known.trust});
    for (const std::string& what : r.not_checked) {
      if (std::find(found.not_checked.begin(), found.not_checked.end(), what) == found.not_checked.end()) {
        found.not_checked.push_back(what);
      }
    }
  }
}

/// Of one lamp by its stored figures.
struct ByFigures {
  bool stored = false;
  std::optional<Screened> screened;
};

/// Each lamp by itself, on all cores; the answers stand where their lamps do.
std::vector<ByFigures> judged_by_figures(const Screener& screener, const std::vector<LampScreening>& lamps,
                                         const LabelOption& label) {
  std::vector<ByFigures> judged(lamps.size());
  // A handful at a time: one is too little for a thread to be worth asking for it.
  constexpr std::size_t at_once = 100;
  in_parallel((lamps.size() + at_once - 1) / at_once, std::thread::hardware_concurrency(), [&](std::size_t part) {
    for (std::size_t i = part * at_once; i < std::min(lamps.size(), (part + 1) * at_once); ++i) {
      const auto figures = lamps[i].figures();
      if (!figures) continue;
      const auto says = label.given ? label.dimmable : lamps[i].label_dimmable;
      const FamilyInfo* family = family_of(lamps[i]);
      const bool harmed_by_cuts = family != nullptr && !family->harmed_by_cuts.empty();
      judged[i] = {true, screener.screen(*figures, says, harmed_by_cuts)};
    }
  });
  return judged;
}

void take(const std::vector<LampScreening>& lamps, const std::vector<ByFigures>& judged, LampsForChannel& found) {
  for (std::size_t i = 0; i < lamps.size(); ++i) {
    const LampScreening& known = lamps[i];
    if (!judged[i].stored) {
      found.others.push_back(
          {known.lamp, known.family.empty() ? "no circuit is known of it; 'lampload fit' finds one"
                       : may_take_dc(known)
                           ? "no figures for mains are stored: measured on DC, or fitted by an earlier "
                             "version"
                           : "fitted by an earlier version; 'lampload fit' stores its figures"});
    } else if (const std::optional<Screened>& one = judged[i].screened) {
      found.lamps.push_back(
          {known.lamp, known.family, one->mode, one->max_lamps, one->max_lamps_nominal, one->limited_by, known.trust});
    } else {
      found.others.push_back(
          {known.lamp, fmt::format("its figures are for {:.0f} V, {:.0f} Hz", known.voltage_v, known.frequency_hz)});
    }
  }
}

void look_at_figures(const Channel& channel, const Library& library, const LabelOption& label, LampsForChannel& found) {
  const Screener screener(channel);
  found.not_checked = screener.not_checked();
  library.screening(
      [&](const std::vector<LampScreening>& lamps) { take(lamps, judged_by_figures(screener, lamps, label), found); });
}

}  // namespace

Advice advise(const LampEvidence& lamp, const Channel& channel, const std::optional<StoredFit>& fit) {
  Advice advice;
  advice.channel = channel;
  advice.recommendation = recommend(lamp, channel);
  if (fit) advice.next_capture = fit->next_sentence;
  return advice;
}

void tell_basis(Advice& advice, const LampRecord& lamp) {
  advice.basis = basis_of(lamp);
  const std::string caution = caution_of(lamp.name, lamp.trust, lamp.origin);
  std::vector<std::string>& cautions = advice.recommendation.cautions;
  if (!caution.empty()) cautions.insert(cautions.begin(), caution);
}

bool ranks_before(const Advice& a, const Advice& b) {
  const auto rank = [](const Recommendation& r) { return std::tuple(r.mode != Mode::none, dims(r.mode), r.max_lamps); };
  return rank(a.recommendation) > rank(b.recommendation);
}

void add_table(Advice& advice, const LampEvidence& lamp, int last) {
  const Recommendation& r = advice.recommendation;
  if (r.modes.empty()) return;
  advice.counts = counts_to(last);
  for (const int count : advice.counts) {
    const LoadItem item{lamp, count};
    advice.table.push_back(check_load(std::span(&item, 1), advice.channel, r.modes.front().mode));
  }
}

LampsForChannel lamps_for(const Channel& channel, const Library& library, const LabelOption& label) {
  LampsForChannel found;
  found.channel = channel.name;
  fed_by_mains(channel) ? look_at_figures(channel, library, label, found)
                        : look_at_circuits(channel, library, label, found);
  std::sort(found.lamps.begin(), found.lamps.end(), [](const LampForChannel& a, const LampForChannel& b) {
    const auto rank = [](const LampForChannel& one) { return std::tuple(one.mode != Mode::none, one.max_lamps); };
    return rank(a) == rank(b) ? a.lamp < b.lamp : rank(a) > rank(b);
  });
  std::sort(found.others.begin(), found.others.end(),
            [](const NotLookedAt& a, const NotLookedAt& b) { return a.lamp < b.lamp; });
  return found;
}

}  // namespace lampload
