#pragma once
// Lamps on a channel in one mode, at chosen operating points; every result is kept, so that the constraints share
// simulations. The load is a mix of lamp types times a count; N lamps of one type are a mix of one, N times.

#include <map>
#include <memory>
#include <span>
#include <string>
#include <tuple>
#include <vector>

#include "core/advice/constraint.h"
#include "core/circuit/warm_start.h"

namespace lampload {

/// Lamps of different types at one node, with how many of each.
using Mix = std::vector<LampGroup>;

/// One lamp of each of these.
std::vector<Mix> mixes_of(std::span<const Lamp> lamps);

/// What a load is looked at with.
struct Margins {
  std::vector<double> supplies_v;  ///< rms
  std::vector<Mix> lamps;          ///< the central one first, then unfavourable ones; same families and counts
  /// One for each type of the mix: currents are taken up by two of it (or down, where little current is bad). The
  /// largest of them counts for all. Empty: none.
  std::vector<LoadSpread> spread;
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
  /// The same operating points, simulations shared, with less allowed for: another spread, and only the first `lamps`
  /// of the mixes.
  [[nodiscard]] Load with(std::vector<LoadSpread> spread, std::size_t lamps) const;

  /// One more unfavourable mix; its index.
  std::size_t add(Mix mix);

  /// The constraint's value with `count` times the mix, spread included. `screened`: good enough to compare operating
  /// points.
  double value(const Constraint& constraint, int count, const Situation& at, bool screened = false);
  /// What the sentence adds to the value; empty where it adds nothing.
  std::string told(const Constraint& constraint, int count, const Situation& at);
  /// Without the spread.
  const SteadyFigures& steady(int count, const Situation& at, bool screened = false);
  /// Where the channel starts softly in this mode, its whole ramp; the phase is left out then.
  const TurnOnFigures& turn_on(int count, const Situation& at, bool screened = false);
  /// The channel switched off; the setting is left out.
  const SteadyFigures& off(int count, const Situation& at);
  /// One mains cycle.
  const LineCycle& cycle(int count, const Situation& at, bool screened = false);
  /// Both sweeps of a dimming mode; the setting is left out.
  const DimmingRange& range(int count, const Situation& at);
  /// With the spread.
  SteadyFigures spread_steady(int count, const Situation& at, bool minimum, bool screened = false);
  TurnOnFigures spread_turn_on(int count, const Situation& at, bool minimum, bool screened = false);
  LineCycle spread_cycle(int count, const Situation& at, bool screened = false);

  /// State in which a group's lamps are switched on, by how they ran before (warm_start.h); empty: at rest.
  const std::vector<double>& start_state(const Situation& at, std::size_t group);

  [[nodiscard]] const Margins& margins() const { return margins_; }
  /// Conduction angles the channel allows in this mode, ascending, at most 10 degrees apart.
  [[nodiscard]] const std::vector<double>& angles_deg() const { return angles_; }
  /// Phases at which the lamps may be switched on, ascending.
  [[nodiscard]] const std::vector<double>& phases_deg() const { return phases_; }
  /// Does the channel raise its conduction angle step by step when it turns on?
  [[nodiscard]] bool starts_softly() const { return soft_start_s_ > 0.0; }

 private:
  /// What was simulated.
  struct Runs {
    std::map<std::tuple<bool, int, Situation>, SteadyFigures> steady;
    std::map<std::tuple<bool, int, Situation>, TurnOnFigures> turn_on;
    std::map<std::tuple<int, Situation>, SteadyFigures> off;
    std::map<std::tuple<bool, int, Situation>, LineCycle> cycle;
    std::map<std::tuple<int, Situation>, DimmingRange> range;
    std::map<std::tuple<std::size_t, std::size_t, std::size_t>, WarmStart> warm;  ///< by supply, lamp and group
    std::map<Situation, std::unique_ptr<DrivenChannel>> settled;  ///< of one lamp: where others start from
  };
  [[nodiscard]] const DrivenChannel* nearest(const Situation& at) const;
  [[nodiscard]] Mix times(std::size_t mix, int count) const;

  Channel channel_;
  Mode mode_;
  Margins margins_;
  std::vector<Path> paths_;  ///< one a supply
  std::vector<double> angles_;
  std::vector<double> phases_;
  double soft_start_s_ = 0.0;  ///< 0: none in this mode
  std::shared_ptr<Runs> runs_ = std::make_shared<Runs>();
};

}  // namespace lampload
