#pragma once
// N lamps on a channel in one mode, at chosen operating points; every result is kept, so that the constraints share
// simulations.

#include <map>
#include <memory>
#include <optional>
#include <tuple>
#include <vector>

#include "core/advice/constraint.h"

namespace lampload {

/// What a load is looked at with.
struct Margins {
  std::vector<double> supplies_v;    ///< rms
  std::vector<Lamp> lamps;           ///< the central one first, then unfavourable ones
  std::optional<LoadSpread> spread;  ///< currents are taken up by two of it (or down, where little current is bad)
};

/// One operating point.
struct Situation {
  std::size_t supply = 0;    ///< index into Margins
  std::size_t lamp = 0;      ///< index into Margins
  double setting_deg = 0.0;  ///< conduction angle, or turn-on phase

  auto operator<=>(const Situation&) const = default;
};

class Load {
 public:
  Load(const Channel& channel, Mode mode, Margins margins);

  /// The constraint's value with `count` lamps, spread included. `screened`: good enough to compare operating points.
  double value(const Constraint& constraint, int count, const Situation& at, bool screened = false);
  const SteadyFigures& steady(int count, const Situation& at, bool screened = false);
  const TurnOnFigures& turn_on(int count, const Situation& at);

  [[nodiscard]] const Margins& margins() const { return margins_; }
  /// Conduction angles the channel allows in this mode, ascending, at most 10 degrees apart.
  [[nodiscard]] const std::vector<double>& angles_deg() const { return angles_; }
  /// Phases at which the lamps may be switched on, ascending.
  [[nodiscard]] const std::vector<double>& phases_deg() const { return phases_; }

 private:
  [[nodiscard]] const DrivenChannel* nearest(const Situation& at) const;

  Mode mode_;
  Margins margins_;
  std::vector<Path> paths_;  ///< one a supply
  std::vector<double> angles_;
  std::vector<double> phases_;
  std::map<std::tuple<bool, int, Situation>, SteadyFigures> steady_;
  std::map<std::tuple<int, Situation>, TurnOnFigures> turn_on_;
  std::map<Situation, std::unique_ptr<DrivenChannel>> settled_;  ///< of one lamp: where others start from
};

}  // namespace lampload
