#include "core/advice/unfavourable.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <span>
#include <thread>
#include <utility>

#include "core/advice/load_figures.h"
#include "core/advice/load_spread.h"
#include "core/error.h"
#include "core/parallel.h"
#include "core/waveform/capture_kinds.h"

namespace lampload {
namespace {

constexpr double furthest_factor = 10.0;
constexpr double loosest_tie = 1.5;     // an interval this much longer than the covariance says owes it nothing
constexpr double hardly_moves = 0.1;    // of what all together move a figure by
constexpr double worth_a_part = 0.3;    // likewise, of a part that the lamp does without: it adds a twentieth at least
constexpr double unseen_change = 0.01;  // of the running current, by such a part

bool held(const ParameterSpec& spec, double value) { return spec.optional && value == spec.absent; }

bool is_identified(const LampEvidence& evidence, std::size_t j) {
  return evidence.identified.empty() || evidence.identified[j];
}

/// Of all parameters, as they are fitted, from the central lamp; of a part that the lamp does without, its size in SI.
using Coordinates = std::vector<double>;

/// What moves independently of everything else, to either end of its 95 % interval.
struct Axis {
  Coordinates down, up;
  bool absent_part = false;  ///< the lamp does without it, and the captures do not rule it out; down: nothing
};

/// To the end of a parameter's 95 % interval.
double reach_of(const LampEvidence& evidence, std::size_t j, const std::vector<double>& ends) {
  const ParameterSpec& spec = evidence.lamp->family().parameters[j];
  const double value = evidence.lamp->parameters()[j];
  if (ends.size() != evidence.lamp->parameters().size()) return 0.0;
  double end = ends[j];
  if (value > 0.0) end = std::clamp(end, value / furthest_factor, value * furthest_factor);
  return to_coordinate(spec, std::clamp(end, spec.lower, spec.upper)) - to_coordinate(spec, value);
}

/// Columns of the lower triangle whose square is the covariance of some parameters.
std::vector<Coordinates> columns_of(const LampEvidence& evidence, const std::vector<std::size_t>& tied) {
  const std::size_t n = evidence.lamp->parameters().size();
  constexpr double rounding = 1e-9;  // what is left of a variance that the others explain
  std::vector<Coordinates> columns;
  for (const std::size_t j : tied) {
    Coordinates column(n, 0.0);
    for (const std::size_t i : tied) {
      column[i] = evidence.covariance[i * n + j];
      for (const Coordinates& before : columns) column[i] -= before[i] * before[j];
    }
    const double left = column[j];
    if (!(left > rounding * evidence.covariance[j * n + j])) continue;
    for (double& x : column) x /= std::sqrt(left);
    columns.push_back(std::move(column));
  }
  return columns;
}

std::vector<Axis> axes_of(const LampEvidence& evidence) {
  const auto specs = evidence.lamp->family().parameters;
  const std::vector<double>& values = evidence.lamp->parameters();
  const std::size_t n = values.size();
  std::vector<std::size_t> tied;
  std::vector<Axis> axes;
  for (std::size_t j = 0; j < n; ++j) {
    if (held(specs[j], values[j])) {
      // The captures do not ask for it, and leave room for so much of it.
      const double most = evidence.upper_95.size() == n ? evidence.upper_95[j] - values[j] : 0.0;
      if (!(most > 0.0) || !specs[j].part.empty()) continue;
      axes.push_back({Coordinates(n, 0.0), Coordinates(n, 0.0), true});
      axes.back().up[j] = most;
      continue;
    }
    const double variance = evidence.covariance.size() == n * n ? evidence.covariance[j * n + j] : 0.0;
    const double said = coverage * std::sqrt(std::max(variance, 0.0));
    const double down = reach_of(evidence, j, evidence.lower_95);
    const double up = reach_of(evidence, j, evidence.upper_95);
    // An interval that is as long as the covariance says to one side at least owes its length to the captures; to the
    // other it may run into what is possible at all.
    const double shorter = down == 0.0 ? up : up == 0.0 ? -down : std::min(-down, up);
    if (said > 0.0 && (is_identified(evidence, j) || shorter < loosest_tie * said)) {
      tied.push_back(j);
    } else if (!is_identified(evidence, j) && (down != 0.0 || up != 0.0)) {
      Axis alone{Coordinates(n, 0.0), Coordinates(n, 0.0)};
      alone.down[j] = down;
      alone.up[j] = up;
      axes.push_back(std::move(alone));
    }
  }
  for (const Coordinates& column : columns_of(evidence, tied)) {
    Axis axis{column, column};
    for (double& x : axis.down) x *= -coverage;
    for (double& x : axis.up) x *= coverage;
    axes.push_back(std::move(axis));
  }
  return axes;
}

Lamp moved(const Lamp& central, const Coordinates& by) {
  const auto specs = central.family().parameters;
  std::vector<double> values = central.parameters();
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (by[i] == 0.0) continue;
    const double there = held(specs[i], values[i])
                             ? values[i] + by[i]
                             : from_coordinate(specs[i], to_coordinate(specs[i], values[i]) + by[i]);
    values[i] = specs[i].within(there);
  }
  return Lamp(central.family(), std::move(values));
}

/// Logarithms of the load figures; empty: none, at DC or where the circuit cannot be solved.
std::vector<double> logarithms(const Lamp& lamp, const OperatingPoint& at) {
  std::vector<double> all;
  try {
    for (const DerivedFigure& figure : load_figures(lamp, at, screening))
      all.push_back(std::log(std::max(figure.value, 1e-12)));
  } catch (const Error& error) {
    if (error.code() != ErrorCode::calculation) throw;
  }
  return all;
}

/// A lamp with what moved it there, and its load figures.
struct End {
  Coordinates by;
  Lamp lamp;
  std::vector<double> figures;
};
using Ends = std::array<End, 2>;

std::vector<Ends> ends_of(const Lamp& central, std::span<const Axis> axes, const std::vector<double>& figures,
                          const OperatingPoint& at) {
  std::vector<Ends> ends;
  for (const Axis& axis : axes)
    ends.push_back(
        {End{axis.down, moved(central, axis.down), figures}, End{axis.up, moved(central, axis.up), figures}});
  in_parallel(figures.empty() ? 0 : 2 * ends.size(), std::thread::hardware_concurrency(), [&](std::size_t k) {
    End& end = ends[k / 2][k % 2];
    std::vector<double> there = logarithms(end.lamp, at);
    if (!there.empty()) end.figures = std::move(there);
  });
  return ends;
}

/// How far one axis moves a figure one way, and by which of its ends; null: by neither.
struct Contribution {
  double reach = 0.0;
  const End* end = nullptr;
};

/// Independent contributions add by their squares.
double added(std::span<const Contribution> contributions) {
  double together = 0.0;
  for (const Contribution& one : contributions) together = std::hypot(together, one.reach);
  return together;
}

std::vector<Contribution> contributions_to(std::size_t figure, double way, const std::vector<double>& figures,
                                           std::span<const Axis> axes, std::span<const Ends> ends) {
  // A part that would change what the lamp draws in operation would not come alone: other parameters make up for it.
  const auto counts = [&](std::size_t a) {
    return !axes[a].absent_part || (way > 0.0 && std::abs(ends[a][1].figures[0] - figures[0]) < unseen_change);
  };
  std::vector<Contribution> all(axes.size());
  for (std::size_t a = 0; a < axes.size(); ++a) {
    if (!counts(a)) continue;
    for (const End& end : ends[a]) {
      const double reach = way * (end.figures[figure] - figures[figure]);
      if (reach > all[a].reach) all[a] = {reach, &end};
    }
  }
  const double together = added(all);
  for (std::size_t a = 0; a < axes.size(); ++a) {
    if (axes[a].absent_part && all[a].reach < worth_a_part * together) all[a] = {};
  }
  return all;
}

/// Where they move a figure furthest together.
Lamp furthest(std::size_t figure, double way, std::span<const Contribution> contributions, const Lamp& central,
              const OperatingPoint& at) {
  const double together = added(contributions);
  const Contribution* largest = nullptr;
  for (const Contribution& one : contributions) {
    if (one.end != nullptr && (largest == nullptr || one.reach > largest->reach)) largest = &one;
  }
  if (largest == nullptr) return central;
  Coordinates by(central.parameters().size(), 0.0);
  for (const Contribution& one : contributions) {
    for (std::size_t i = 0; one.end != nullptr && i < by.size(); ++i) by[i] += one.reach / together * one.end->by[i];
  }
  Lamp lamp = moved(central, by);
  // Far from the central lamp contributions may cancel.
  const std::vector<double> there = logarithms(lamp, at);
  const bool further = !there.empty() && way * (there[figure] - largest->end->figures[figure]) >= 0.0;
  return further ? lamp : largest->end->lamp;
}

}  // namespace

std::vector<Lamp> unfavourable_lamps(const LampEvidence& evidence, const OperatingPoint& at) {
  const Lamp& central = *evidence.lamp;
  const std::vector<double> figures = logarithms(central, at);
  const std::vector<Axis> axes = axes_of(evidence);
  const std::vector<Ends> ends = ends_of(central, axes, figures, at);
  std::vector<Lamp> lamps{central};
  const auto add = [&](const Lamp& lamp) {
    const auto same = [&](const Lamp& other) { return other.parameters() == lamp.parameters(); };
    if (std::none_of(lamps.begin(), lamps.end(), same)) lamps.push_back(lamp);
  };
  std::vector<bool> matters(axes.size(), false);
  for (std::size_t figure = 0; figure < figures.size(); ++figure) {
    for (const double way : {-1.0, 1.0}) {
      const std::vector<Contribution> contributions = contributions_to(figure, way, figures, axes, ends);
      const double together = added(contributions);
      for (std::size_t a = 0; a < axes.size(); ++a)
        matters[a] = matters[a] || contributions[a].reach > hardly_moves * together;
      add(furthest(figure, way, contributions, central, at));
    }
  }
  for (std::size_t a = 0; a < axes.size(); ++a) {
    if (matters[a] || axes[a].absent_part) continue;
    for (const End& end : ends[a]) add(end.lamp);
  }
  return lamps;
}

std::vector<std::string> unidentified_parameters(const LampEvidence& evidence) {
  std::vector<std::string> names;
  const std::set<std::string_view> taken = capture_kinds(evidence.measured);
  const auto specs = evidence.lamp->family().parameters;
  for (std::size_t j = 0; j < specs.size(); ++j) {
    if (is_identified(evidence, j) || held(specs[j], evidence.lamp->parameters()[j])) continue;
    names.push_back(specs[j].identified_by.empty() || taken.contains(specs[j].identified_by)
                        ? std::string(specs[j].name)
                        : fmt::format("{} (a {} capture would show it)", specs[j].name, specs[j].identified_by));
  }
  return names;
}

}  // namespace lampload
