#pragma once
// How lamps follow a dimmer: delivered power, rms current and estimated light over the whole travel of the setting,
// brought up from off and brought down from full, and what follows for the limits to set in firmware.
// docs/dimming.md has the definitions.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/advice/recommendation.h"
#include "core/circuit/drive.h"

namespace lampload {

/// What a mode is set by: the conduction angle in degrees of a half cycle (phase cut), or a duty of 0 to 1 (DC).
enum class Setting { conduction_deg, duty };
Setting setting_of(Mode mode);

/// True of the modes that have a setting: both edges, and both kinds of DC output.
bool has_setting(Mode mode);

/// Evenly from the lowest to the highest that the output allows [degrees of a half cycle], no further apart than
/// step_deg.
std::vector<double> conduction_angles(const Output& output, double step_deg);

/// Throws Error{input_refused} unless every lamp can be fed in this mode, and the channel's switch can do it.
void need_fed_by(const Channel& channel, Mode mode, std::span<const LampGroup> lamps);

/// The modes with a setting that the channel can do: its edges (a triac has no trailing one), or its DC output.
std::vector<Mode> dimming_modes(const Channel& channel);

/// Lamps in steady operation at one setting, all together.
struct DimmingPoint {
  double setting = 0.0;
  double power_w = 0.0;         ///< into the lamps, mean
  double rms_a = 0.0;           ///< through the switch
  std::optional<double> light;  ///< estimate; as a share of that at the largest setting
  bool steady = true;           ///< false: the power differs from half cycle to half cycle, which is seen as flicker
};

struct DimmingOptions {
  std::optional<double> supply_v = {};  ///< rms or DC; empty: the channel's nominal one
  double step_deg = 5.0;  ///< between conduction angles; closer where the power jumps and where lamps start
  Accuracy accuracy = {};
  bool light = true;  ///< estimate it, where all lamps are of one type whose family says how
};

/// Both sweeps are ordered by rising setting.
struct DimmingCurve {
  Mode mode = Mode::none;
  double supply_v = 0.0;
  int lamps = 0;
  std::vector<DimmingPoint> rising;   ///< from cold and discharged lamps at the lowest setting upwards
  std::vector<DimmingPoint> falling;  ///< from the highest setting downwards
  std::string light_law;              ///< what the estimate of light rests on; empty: there is none
};

/// Sweeps the settings that the channel allows in this mode. Throws Error{input_refused} where the mode does not dim,
/// the lamps cannot be fed by it, or the channel lacks what it takes (supply_voltage_v, current_a);
/// Error{calculation} where a simulation fails.
DimmingCurve dimming_curve(const Channel& channel, Mode mode, std::span<const LampGroup> lamps,
                           const DimmingOptions& options = {});

/// Level: the estimated light where there is one, else the power, as a share of that at the highest setting. Power
/// alone misleads where resistors take a part of it that grows as the lamp gets darker.
struct DimmingJump {
  double from = 0.0;   ///< setting, the lower one of two neighbours
  double to = 0.0;     ///< setting
  double share = 0.0;  ///< by which the level changes; positive: more at `to`
  bool rising = true;  ///< in the sweep upwards (false: downwards)
};

/// Limits by which a range is told. Common practice, no source.
inline constexpr double dark_share = 0.005;  ///< level below which phase-cut lamps count as off
inline constexpr double full_share = 0.995;  ///< level from which on nothing is gained
inline constexpr double jump_share = 0.1;    ///< change of the level between two neighbouring settings

struct DimmingRange {
  bool runs = false;               ///< false: the lamps are off at every setting, and the rest means nothing
  bool by_light = false;           ///< the level is the estimated light (false: the power)
  double lowest = 0.0;             ///< setting, as the sweep went
  double highest = 0.0;            ///< likewise
  double starts_at = 0.0;          ///< least setting at which cold lamps come on
  double stops_at = 0.0;           ///< least setting at which running lamps stay on
  double full_at = 0.0;            ///< from here on level and power are full
  double min_setting = 0.0;        ///< to set in firmware: from here on lamps start, run steadily and do not go out
  double max_setting = 0.0;        ///< to set in firmware: full_at
  double least_share = 0.0;        ///< level at min_setting over that at max_setting: the smallest steady level
  double least_power_share = 0.0;  ///< likewise of the power
  double full_power_w = 0.0;       ///< at max_setting
  double dead_travel = 0.0;        ///< in sum, stretches of a twentieth of the travel or more in which the level moves
                                   ///< by less than 0.005
  double falls_by = 0.0;           ///< most by which the level falls while the setting rises
  bool steady = true;              ///< false: the lamps flicker at max_setting too
  std::vector<DimmingJump> jumps;

  [[nodiscard]] double travel() const { return max_setting - min_setting; }
  [[nodiscard]] double hysteresis() const { return starts_at - stops_at; }
  [[nodiscard]] bool monotonic() const { return falls_by < 1.0 - full_share; }
};

DimmingRange range_of(const DimmingCurve& curve);

/// The range that holds for all of these (other supplies, other counts of the same lamps in the same mode): the least
/// favourable limits of all, levels and power by the first.
DimmingRange range_for_all(std::span<const DimmingCurve> curves);

}  // namespace lampload
