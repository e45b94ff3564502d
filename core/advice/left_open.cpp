#include "core/advice/left_open.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <thread>
#include <utility>

#include "core/advice/load_figures.h"
#include "core/error.h"
#include "core/parallel.h"

namespace lampload {
namespace {

// Common practice of this project, no source (decisions 63 and 65 say how often ends hold with them).
constexpr double furthest_factor = 10.0;
constexpr double loosest_tie = 1.5;     // an interval this much longer than the covariance says owes it nothing
constexpr double worth_a_part = 0.3;    // of what all together move a figure by: it adds a twentieth at least
constexpr double unseen_change = 0.01;  // of the running current, by a part that the lamp does without
constexpr double strays = 0.02;         // from the straight line, of the logarithm of the running current
constexpr double strays_of_line = 0.5;  // likewise, of what the line itself says

bool held(const ParameterSpec& spec, double value) { return spec.optional && value == spec.absent; }

bool is_identified(const LampEvidence& evidence, std::size_t j) {
  return evidence.identified.empty() || evidence.identified[j];
}

using Coordinates = std::vector<double>;

/// Both ends of what moves independently of everything else.
struct Axis {
  Coordinates down, up;
  std::size_t owner;  ///< the parameter that moves for itself; the others follow it
  bool absent_part = false;
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
/// Each with the parameter that it begins with.
std::vector<std::pair<std::size_t, Coordinates>> columns_of(const LampEvidence& evidence,
                                                            const std::vector<std::size_t>& tied) {
  const std::size_t n = evidence.lamp->parameters().size();
  constexpr double rounding = 1e-9;  // what is left of a variance that the others explain
  std::vector<std::pair<std::size_t, Coordinates>> columns;
  for (const std::size_t j : tied) {
    Coordinates column(n, 0.0);
    for (const std::size_t i : tied) {
      column[i] = evidence.covariance[i * n + j];
      for (const auto& [owner, before] : columns) column[i] -= before[i] * before[j];
    }
    const double left = column[j];
    if (!(left > rounding * evidence.covariance[j * n + j])) continue;
    for (double& x : column) x /= std::sqrt(left);
    columns.emplace_back(j, std::move(column));
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
      axes.push_back({Coordinates(n, 0.0), Coordinates(n, 0.0), j, true});
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
      Axis alone{Coordinates(n, 0.0), Coordinates(n, 0.0), j};
      alone.down[j] = down;
      alone.up[j] = up;
      axes.push_back(std::move(alone));
    }
  }
  for (const auto& [owner, column] : columns_of(evidence, tied)) {
    Axis axis{column, column, owner};
    for (double& x : axis.down) x *= -coverage;
    for (double& x : axis.up) x *= coverage;
    axes.push_back(std::move(axis));
  }
  return axes;
}

/// Follows one axis from the central lamp. Far from it the straight line that a covariance draws may leave what the
/// captures know best, the current while running, or what is a lamp of the family at all: then the parameters that
/// follow have to make up for it, or the axis ends earlier.
class Axial {
 public:
  Axial(const Lamp& central, const OperatingPoint& at, double running)
      : central_(central), at_(at), running_(running) {}

  /// How far an axis goes that would go as far as `by`.
  [[nodiscard]] Coordinates followed(const Coordinates& by, std::size_t owner) const {
    constexpr double near = 0.1;
    const Coordinates begun = times(by, near);
    const bool asks = plausible(begun);  // a central lamp at the edge of it says nothing of its ends
    const auto possible = [&](const Coordinates& end) { return !asks || plausible(end); };
    const std::optional<double> there = change(by);
    if (there && std::abs(*there) < strays && possible(by)) return by;
    const std::optional<double> beside = change(begun);
    if (!beside) return Coordinates(by.size(), 0.0);
    const double line = *beside / near;
    const double allowed = std::max(strays, strays_of_line * std::abs(line));
    const auto holds = [&](const Coordinates& end, double share) {
      const std::optional<double> now = change(end);
      return now && std::abs(*now - share * line) < allowed && possible(end);
    };
    for (const double share : {1.0, 0.75, 0.5, 0.35, 0.25, 0.18}) {
      const Coordinates straight = times(by, share);
      if (holds(straight, share)) return straight;
      const Coordinates bent = bent_to(share * line, straight, owner);
      if (holds(bent, share)) return bent;
    }
    return begun;
  }

 private:
  static Coordinates times(Coordinates by, double factor) {
    for (double& x : by) x *= factor;
    return by;
  }

  /// Of the logarithm of the running current.
  [[nodiscard]] std::optional<double> change(const Coordinates& by) const {
    try {
      return std::log(std::max(running_current_a(moved(central_, by), at_, screening), 1e-12)) - running_;
    } catch (const Error& error) {
      if (error.code() != ErrorCode::calculation) throw;
      return std::nullopt;
    }
  }

  [[nodiscard]] bool plausible(const Coordinates& by) const {
    return central_.family().plausible(moved(central_, by).parameters(), {}, at_);
  }

  /// With the largest follower moved less or more, so that the running current changes by `target`; as it was where no
  /// such move does.
  [[nodiscard]] Coordinates bent_to(double target, const Coordinates& by, std::size_t owner) const {
    std::size_t follower = owner;
    for (std::size_t j = 0; j < by.size(); ++j) {
      if (j != owner && by[j] != 0.0 && (follower == owner || std::abs(by[j]) > std::abs(by[follower]))) follower = j;
    }
    if (follower == owner) return by;
    const auto at_share = [&](double share) {
      Coordinates there = by;
      there[follower] *= share;
      return there;
    };
    const auto off = [&](double share) {
      const std::optional<double> now = change(at_share(share));
      return now ? *now - target : std::numeric_limits<double>::quiet_NaN();
    };
    constexpr double widest = 1.5;
    constexpr int pieces = 6;
    constexpr int halvings = 6;
    double before = off(widest);
    for (int k = pieces - 1; k >= 0; --k) {  // the largest move that does
      double low = widest * k / pieces;
      double high = widest * (k + 1) / pieces;
      const double here = off(low);
      if (here * before <= 0.0) {
        for (int n = 0; n < halvings; ++n) {
          const double middle = 0.5 * (low + high);
          (off(middle) * before <= 0.0 ? low : high) = middle;
        }
        return at_share(0.5 * (low + high));
      }
      before = here;
    }
    return by;
  }

  const Lamp& central_;
  const OperatingPoint& at_;
  double running_;
};

}  // namespace

Lamp moved(const Lamp& central, const std::vector<double>& by) {
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

std::vector<double> log_load_figures(const Lamp& lamp, const OperatingPoint& at) {
  std::vector<double> all;
  try {
    for (const DerivedFigure& figure : load_figures(lamp, at, screening))
      all.push_back(std::log(std::max(figure.value, 1e-12)));
  } catch (const Error& error) {
    if (error.code() != ErrorCode::calculation) throw;
  }
  return all;
}

LeftOpen left_open(const LampEvidence& evidence, const OperatingPoint& at) {
  const Lamp& central = *evidence.lamp;
  LeftOpen open;
  open.figures = log_load_figures(central, at);
  const auto end = [&](const Coordinates& by) { return OpenEnd{by, moved(central, by), open.figures}; };
  const std::vector<Axis> axes = axes_of(evidence);
  for (const Axis& axis : axes) open.ways.push_back({end(axis.down), end(axis.up), axis.absent_part});
  if (open.figures.empty()) return open;
  const Axial axial(central, at, open.figures[0]);
  in_parallel(2 * open.ways.size(), std::thread::hardware_concurrency(), [&](std::size_t k) {
    OpenEnd& one = k % 2 == 0 ? open.ways[k / 2].down : open.ways[k / 2].up;
    if (!open.ways[k / 2].absent_part) one = end(axial.followed(one.by, axes[k / 2].owner));
    std::vector<double> there = log_load_figures(one.lamp, at);
    if (!there.empty()) one.figures = std::move(there);
  });
  return open;
}

double added(std::span<const Contribution> contributions) {
  double together = 0.0;
  for (const Contribution& one : contributions) together = std::hypot(together, one.reach);
  return together;
}

std::vector<Contribution> contributions_to(std::size_t figure, double way, const LeftOpen& open) {
  // A part that would change what the lamp draws in operation would not come alone: other parameters make up for it.
  const auto counts = [&](const OpenWay& one) {
    return !one.absent_part || (way > 0.0 && std::abs(one.up.figures[0] - open.figures[0]) < unseen_change);
  };
  std::vector<Contribution> all(open.ways.size());
  for (std::size_t a = 0; a < all.size(); ++a) {
    if (!counts(open.ways[a])) continue;
    for (const OpenEnd* end : {&open.ways[a].down, &open.ways[a].up}) {
      const double reach = way * (end->figures[figure] - open.figures[figure]);
      if (reach > all[a].reach) all[a] = {reach, end};
    }
  }
  const double together = added(all);
  for (std::size_t a = 0; a < all.size(); ++a) {
    if (open.ways[a].absent_part && all[a].reach < worth_a_part * together) all[a] = {};
  }
  return all;
}

}  // namespace lampload
