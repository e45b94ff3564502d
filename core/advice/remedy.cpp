#include "core/advice/remedy.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>

#include "core/error.h"

namespace lampload {
namespace {

constexpr int most_parts = 4;
constexpr int most_growth = 4;  // a load that needs more than so many times the lamps is another plan

std::string lamps_in_words(std::span<const LoadItem> load) {
  std::string text;
  for (const LoadItem& item : load) {
    text += fmt::format("{}{} x {}", text.empty() ? "" : ", ", item.count, item.evidence.name);
  }
  return text;
}

bool holds(std::span<const LoadItem> load, const Channel& channel, Mode mode, const LoadJudge& judge) {
  try {
    return judge(load, channel, mode).holds;
  } catch (const Error& error) {
    // A way that cannot be simulated is no way to suggest.
    if (error.code() == ErrorCode::calculation) return false;
    throw;
  }
}

std::vector<LoadItem> with_count(std::span<const LoadItem> load, std::size_t item, int count) {
  std::vector<LoadItem> changed(load.begin(), load.end());
  changed[item].count = count;
  std::erase_if(changed, [](const LoadItem& one) { return one.count == 0; });
  return changed;
}

bool is_turn_on(const std::string& name) {
  return name == "surge_peak" || name == "surge_i2t" || name == "breaker_trip" || name == "contact_make";
}

/// Only where what fails happens at a turn-on.
std::optional<Remedy> zero_crossing(std::span<const LoadItem> load, const Channel& channel, const LoadCheck& failed,
                                    const LoadJudge& judge) {
  if (channel.output.zero_cross_turn_on.value_or(failed.mode == Mode::trailing_edge)) return std::nullopt;
  for (const CheckedConstraint& constraint : failed.constraints) {
    if (!constraint.holds && !constraint.advice && !is_turn_on(constraint.name)) return std::nullopt;
  }
  Channel changed = channel;
  changed.output.zero_cross_turn_on = true;
  if (!holds(load, changed, failed.mode, judge)) return std::nullopt;
  return Remedy{RemedyKind::zero_cross_turn_on, "an output that turns on at the zero crossing holds"};
}

/// As even as whole lamps allow: every part differs from the next by at most one lamp of a type.
std::optional<Remedy> split(std::span<const LoadItem> load, const Channel& channel, Mode mode, const LoadJudge& judge) {
  int lamps = 0;
  for (const LoadItem& item : load) lamps += item.count;
  for (int parts = 2; parts <= std::min(most_parts, lamps); ++parts) {
    std::vector<std::vector<LoadItem>> shares(static_cast<std::size_t>(parts));
    int next = 0;  // where the next odd lamp goes
    for (const LoadItem& item : load) {
      std::vector<int> counts(shares.size(), item.count / parts);
      for (int odd = item.count % parts; odd > 0; --odd) ++counts[static_cast<std::size_t>(next++ % parts)];
      for (std::size_t part = 0; part < shares.size(); ++part) {
        if (counts[part] > 0) shares[part].push_back({item.evidence, counts[part]});
      }
    }
    const bool all = std::all_of(shares.begin(), shares.end(), [&](const std::vector<LoadItem>& share) {
      return !share.empty() && holds(share, channel, mode, judge);
    });
    if (!all) continue;
    return Remedy{RemedyKind::split, fmt::format("split over {} such channels it holds: at most {} on each", parts,
                                                 lamps_in_words(shares.front()))};
  }
  return std::nullopt;
}

/// Of one type while the others stay: the largest count below the planned one. With fewer lamps nothing but a minimum
/// gets worse, so the counts that hold lie together below it.
std::optional<int> fewer(std::span<const LoadItem> load, std::size_t item, const Channel& channel, Mode mode,
                         const LoadJudge& judge) {
  int low = load.size() > 1 ? -1 : 0;  // does not hold, or holds nothing
  int high = load[item].count;         // does not hold
  while (high - low > 1) {
    const int middle = low + (high - low) / 2;
    (holds(with_count(load, item, middle), channel, mode, judge) ? low : high) = middle;
  }
  if (low < (load.size() > 1 ? 0 : 1)) return std::nullopt;
  return low;
}

std::optional<int> more(std::span<const LoadItem> load, std::size_t item, const Channel& channel, Mode mode,
                        const LoadJudge& judge) {
  int low = load[item].count;        // does not hold
  int high = most_growth * low + 1;  // not looked at
  int probe = std::max(low + 1, 2 * low);
  while (probe < high && !holds(with_count(load, item, probe), channel, mode, judge)) {
    low = probe;
    probe = std::max(low + 1, 2 * low);
  }
  if (probe >= high) return std::nullopt;
  high = probe;
  while (high - low > 1) {
    const int middle = low + (high - low) / 2;
    (holds(with_count(load, item, middle), channel, mode, judge) ? high : low) = middle;
  }
  return high;
}

}  // namespace

std::string remedy_name(RemedyKind kind) {
  switch (kind) {
    case RemedyKind::another_mode:
      return "another_mode";
    case RemedyKind::zero_cross_turn_on:
      return "zero_cross_turn_on";
    case RemedyKind::split:
      return "split";
    case RemedyKind::fewer_lamps:
      return "fewer_lamps";
    case RemedyKind::more_lamps:
      return "more_lamps";
  }
  return "";
}

std::vector<Remedy> remedies(std::span<const LoadItem> load, const Channel& channel, const LoadCheck& failed,
                             std::span<const Mode> other_modes, const LoadJudge& judge) {
  std::vector<Remedy> found;
  for (const Mode mode : other_modes) {
    if (holds(load, channel, mode, judge)) {
      found.push_back({RemedyKind::another_mode, fmt::format("mode {} holds", mode_name(mode))});
    }
  }
  if (auto way = zero_crossing(load, channel, failed, judge)) found.push_back(std::move(*way));

  const bool only_minima = std::all_of(
      failed.constraints.begin(), failed.constraints.end(),
      [](const CheckedConstraint& constraint) { return constraint.holds || constraint.minimum || constraint.advice; });
  if (!only_minima) {
    if (auto way = split(load, channel, failed.mode, judge)) found.push_back(std::move(*way));
  }
  for (std::size_t item = 0; item < load.size(); ++item) {
    const std::optional<int> count =
        only_minima ? more(load, item, channel, failed.mode, judge) : fewer(load, item, channel, failed.mode, judge);
    if (!count) continue;
    const std::string& lamp = load[item].evidence.name;
    found.push_back(
        only_minima
            ? Remedy{RemedyKind::more_lamps, fmt::format("{} x {} instead of {} holds", *count, lamp, load[item].count)}
            : Remedy{RemedyKind::fewer_lamps,
                     *count == 0 ? fmt::format("without {} it holds", lamp)
                                 : fmt::format("{} x {} instead of {} holds", *count, lamp, load[item].count)});
  }
  return found;
}

}  // namespace lampload
