// One record of several stretches of time: segmented memory, a recorder that was stopped, files put behind each other.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/capture/readers.h"
#include "core/capture/time_base.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr double longest_bridge = 10.0;  // samples
constexpr std::size_t most_shown = 8;

struct Stretch {
  std::size_t from = 0;
  std::size_t to = 0;  ///< one past the last sample
};

template <class T>
void keep_range(std::vector<T>& values, Stretch kept) {
  if (values.empty()) return;
  values = std::vector<T>(values.begin() + static_cast<std::ptrdiff_t>(kept.from),
                          values.begin() + static_cast<std::ptrdiff_t>(kept.to));
}

std::string listed(const std::vector<Stretch>& stretches, const std::vector<double>& time) {
  std::string text;
  for (std::size_t k = 0; k < std::min(stretches.size(), most_shown); ++k) {
    const auto [from, to] = stretches[k];
    text += fmt::format("{}{}: {} samples", k == 0 ? "" : ", ", k + 1, to - from);
    if (!time.empty()) text += fmt::format(" from {:.6g} s to {:.6g} s", time[from], time[to - 1]);
  }
  return stretches.size() > most_shown ? text + ", ..." : text;
}

}  // namespace

void keep_segment(std::optional<int> segment, const std::vector<std::size_t>& begins, Stamps& stamps,
                  Capture& capture) {
  const std::vector<double>& time = stamps.time_s();
  const std::size_t samples = std::max(capture.voltage_v.size(), capture.current_a.size());
  const double step = median_step(time);
  std::vector<std::size_t> cuts = begins;
  std::optional<std::size_t> backwards;
  std::optional<std::size_t> largest_jump;
  for (std::size_t k = 1; k < time.size(); ++k) {
    const double forward = time[k] - time[k - 1];
    if (forward >= 0.0 && !(forward > longest_bridge * step)) continue;
    cuts.push_back(k);
    if (forward < 0.0 && !backwards) backwards = k;
    if (forward > 0.0 && (!largest_jump || forward > time[*largest_jump] - time[*largest_jump - 1])) largest_jump = k;
  }
  std::sort(cuts.begin(), cuts.end());
  std::vector<Stretch> stretches{{0, 0}};
  for (const std::size_t cut : cuts) {
    if (cut == stretches.back().from || cut >= samples) continue;
    stretches.back().to = cut;
    stretches.push_back({cut, 0});
  }
  stretches.back().to = samples;

  const auto refuse = [&](std::optional<std::size_t> at, std::string message, std::string remedy) {
    Place place{.file = capture.file};
    if (at && !time.empty()) place.line = stamps.line_of(*at);
    throw Error(ErrorCode::input_refused, std::move(message), place, std::move(remedy));
  };
  const bool long_enough =
      std::all_of(stretches.begin(), stretches.end(), [](Stretch s) { return s.to - s.from >= fewest_samples; });
  if (segment && stretches.size() > 1 && (long_enough || !backwards)) {
    const auto wanted = static_cast<std::size_t>(*segment);
    if (wanted > stretches.size()) {
      refuse({},
             fmt::format("there is no segment {}; the record has {} ({})", *segment, stretches.size(),
                         listed(stretches, time)),
             "Choose one of these with --segment.");
    }
    const Stretch kept = stretches[wanted - 1];
    if (kept.to - kept.from < fewest_samples) {
      refuse(kept.from,
             fmt::format("segment {} holds {} samples, fewer than {}", *segment, kept.to - kept.from, fewest_samples),
             "Choose another one with --segment.");
    }
    capture.notes.push_back({"segment_chosen", Severity::note,
                             fmt::format("The record has {} segments ({}); number {} was read.", stretches.size(),
                                         listed(stretches, time), *segment)});
    keep_range(capture.voltage_v, kept);
    keep_range(capture.current_a, kept);
    if (!time.empty()) stamps.keep(kept.from, kept.to);
    return;
  }
  if (segment && *segment != 1 && stretches.size() == 1) {
    refuse({}, fmt::format("there is no segment {}; the record is one piece", *segment), "Leave out --segment.");
  }
  if (stretches.size() == 1) return;
  const std::string choice =
      long_enough ? fmt::format("; the record has {} segments ({})", stretches.size(), listed(stretches, time)) : "";
  const std::string remedy =
      long_enough ? fmt::format("Choose one with --segment 1 to {}, or export one record.", stretches.size())
      : backwards ? "Export one record, in order of time."
                  : "Export one record without gaps, or only the part before or after (--segment).";
  if (backwards) {
    refuse(
        backwards,
        fmt::format("time runs backwards, from {:.9g} s to {:.9g} s{}", time[*backwards - 1], time[*backwards], choice),
        remedy);
  }
  if (largest_jump) {
    refuse(largest_jump,
           fmt::format("time jumps by {:.6g} s here, while samples are {:.6g} s apart{}",
                       time[*largest_jump] - time[*largest_jump - 1], step, choice),
           remedy);
  }
  refuse({}, fmt::format("the header is repeated among the rows{}", choice), remedy);
}

}  // namespace lampload
