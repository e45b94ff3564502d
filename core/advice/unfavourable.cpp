#include "core/advice/unfavourable.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <span>

#include "core/advice/left_open.h"
#include "core/waveform/capture_kinds.h"

namespace lampload {
namespace {

constexpr double hardly_moves = 0.1;  // of what all together move a figure by

/// Where they move a figure furthest together.
Lamp furthest(std::size_t figure, double way, std::span<const Contribution> contributions, const Lamp& central,
              const OperatingPoint& at) {
  const double together = added(contributions);
  const Contribution* largest = nullptr;
  for (const Contribution& one : contributions) {
    if (one.end != nullptr && (largest == nullptr || one.reach > largest->reach)) largest = &one;
  }
  if (largest == nullptr) return central;
  std::vector<double> by(central.parameters().size(), 0.0);
  for (const Contribution& one : contributions) {
    for (std::size_t i = 0; one.end != nullptr && i < by.size(); ++i) by[i] += one.reach / together * one.end->by[i];
  }
  Lamp lamp = moved(central, by);
  // Far from the central lamp contributions may cancel.
  const std::vector<double> there = log_load_figures(lamp, at);
  const bool further = !there.empty() && way * (there[figure] - largest->end->figures[figure]) >= 0.0;
  return further ? lamp : largest->end->lamp;
}

std::vector<FigureEnds> ends_of(const LeftOpen& open, const Lamp& central, const OperatingPoint& at) {
  const auto end = [&](std::size_t figure, double way) {
    return furthest(figure, way, contributions_to(figure, way, open), central, at);
  };
  std::vector<FigureEnds> ends;
  for (std::size_t figure = 0; figure < open.figures.size(); ++figure)
    ends.push_back({end(figure, -1.0), end(figure, 1.0)});
  return ends;
}

/// Whether a way moves any figure by much.
bool matters(std::size_t a, const LeftOpen& open) {
  for (std::size_t figure = 0; figure < open.figures.size(); ++figure) {
    for (const double way : {-1.0, 1.0}) {
      const std::vector<Contribution> contributions = contributions_to(figure, way, open);
      if (contributions[a].reach > hardly_moves * added(contributions)) return true;
    }
  }
  return false;
}

}  // namespace

std::vector<Lamp> unfavourable_lamps(const LampEvidence& evidence, const OperatingPoint& at) {
  const Lamp& central = *evidence.lamp;
  const LeftOpen open = left_open(evidence, at);
  std::vector<Lamp> lamps{central};
  const auto add = [&](const Lamp& lamp) {
    const auto same = [&](const Lamp& other) { return other.parameters() == lamp.parameters(); };
    if (std::none_of(lamps.begin(), lamps.end(), same)) lamps.push_back(lamp);
  };
  for (const FigureEnds& figure : ends_of(open, central, at)) {
    add(figure.least);
    add(figure.most);
  }
  for (std::size_t a = 0; a < open.ways.size(); ++a) {
    if (open.ways[a].absent_part || matters(a, open)) continue;
    add(open.ways[a].down.lamp);
    add(open.ways[a].up.lamp);
  }
  return lamps;
}

std::vector<FigureEnds> figure_ends(const LampEvidence& evidence, const OperatingPoint& at) {
  return ends_of(left_open(evidence, at), *evidence.lamp, at);
}

std::vector<std::string> unidentified_parameters(const LampEvidence& evidence) {
  std::vector<std::string> names;
  const std::set<std::string_view> taken = capture_kinds(evidence.measured);
  const auto specs = evidence.lamp->family().parameters;
  for (std::size_t j = 0; j < specs.size(); ++j) {
    const double value = evidence.lamp->parameters()[j];
    const bool held = specs[j].optional && value == specs[j].absent;
    if (held || evidence.identified.empty() || evidence.identified[j]) continue;
    names.push_back(specs[j].identified_by.empty() || taken.contains(specs[j].identified_by)
                        ? std::string(specs[j].name)
                        : fmt::format("{} (a {} capture would show it)", specs[j].name, specs[j].identified_by));
  }
  return names;
}

}  // namespace lampload
