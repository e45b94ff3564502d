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

}  // namespace

std::vector<Lamp> unfavourable_lamps(const LampEvidence& evidence, const OperatingPoint& at) {
  const Lamp& central = *evidence.lamp;
  const LeftOpen open = left_open(evidence, at);
  std::vector<Lamp> lamps{central};
  const auto add = [&](const Lamp& lamp) {
    const auto same = [&](const Lamp& other) { return other.parameters() == lamp.parameters(); };
    if (std::none_of(lamps.begin(), lamps.end(), same)) lamps.push_back(lamp);
  };
  std::vector<bool> matters(open.ways.size(), false);
  for (std::size_t figure = 0; figure < open.figures.size(); ++figure) {
    for (const double way : {-1.0, 1.0}) {
      const std::vector<Contribution> contributions = contributions_to(figure, way, open);
      const double together = added(contributions);
      for (std::size_t a = 0; a < matters.size(); ++a)
        matters[a] = matters[a] || contributions[a].reach > hardly_moves * together;
      add(furthest(figure, way, contributions, central, at));
    }
  }
  for (std::size_t a = 0; a < matters.size(); ++a) {
    if (matters[a] || open.ways[a].absent_part) continue;
    add(open.ways[a].down.lamp);
    add(open.ways[a].up.lamp);
  }
  return lamps;
}

std::vector<FigureEnds> figure_ends(const LampEvidence& evidence, const OperatingPoint& at) {
  const LeftOpen open = left_open(evidence, at);
  std::vector<FigureEnds> ends;
  for (std::size_t figure = 0; figure < open.figures.size(); ++figure) {
    ends.push_back({furthest(figure, -1.0, contributions_to(figure, -1.0, open), *evidence.lamp, at),
                    furthest(figure, 1.0, contributions_to(figure, 1.0, open), *evidence.lamp, at)});
  }
  return ends;
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
