#pragma once
// The two questions that decide a channel: which dimming mode, and how many of these lamps.

#include <optional>
#include <string>
#include <vector>

#include "core/advice/load_spread.h"
#include "core/circuit/channel.h"
#include "core/lamp/lamp.h"

namespace lampload {

enum class Mode { leading_edge, trailing_edge, on_off, dc_pwm, dc_constant_current, none };

/// "leading_edge", ... as other programs read it.
std::string mode_name(Mode mode);

/// The modes a channel can do, in the order of its edges, on/off last. What it claims and cannot do goes into
/// `cautions`.
std::vector<Mode> modes_of(const Channel& channel, std::vector<std::string>& cautions);

/// A finished channel with such lamps that was captured and held against the prediction (comparison.h).
struct ChannelEvidence {
  std::string channel;
  Mode mode = Mode::none;
  int count = 0;
  std::string time_utc;
  bool agrees = true;
  std::string finding;  ///< in words: by how much what is off
};

/// What is known of the lamp: the fitted circuit, how sure it is, and under which conditions it was measured.
struct LampEvidence {
  std::string name;
  std::optional<Lamp> lamp;  ///< empty: no family describes this lamp, and only the measured waveform speaks
  /// Row by row, in the coordinates of to_coordinate(); zero rows for held parameters. Empty: taken as zero.
  std::vector<double> covariance;
  /// 95 % interval of each parameter in SI (for one that is not identified: the bounds that hold). Empty: no
  /// uncertainty.
  std::vector<double> lower_95;
  std::vector<double> upper_95;
  std::vector<bool> identified;
  LoadSpread spread;  ///< between samples (pieces) of this lamp type
  std::optional<bool> label_dimmable;
  std::vector<Figures> measured;          ///< figures of the captures behind the fit
  std::vector<ChannelEvidence> compared;  ///< made with this fit, oldest first
};

/// One constraint at one mode. `value` is at the recommended count (at one lamp where the count is 0).
struct ConstraintResult {
  std::string name;
  double value = 0.0;
  double limit = 0.0;
  std::string unit;
  std::optional<int> max_lamps;          ///< empty: sets no upper count (it asks for a minimum, or only advises)
  std::optional<int> max_lamps_nominal;  ///< with central values
  bool holds = true;
  bool advice = false;   ///< by common practice and not asked for: sets no count, and a mode holds without it
  std::string source;    ///< standard and clause, the channel's rating, or "common practice, no source"
  std::string sentence;  ///< for people: value, limit, where it is worst
};

struct ModeVerdict {
  Mode mode = Mode::none;
  int max_lamps = 0;          ///< with all margins
  int max_lamps_nominal = 0;  ///< central values
  std::string limited_by;     ///< constraint that binds
  std::string next_limit;     ///< the next one behind it
  double min_conduction_deg = 0.0;
  double max_conduction_deg = 180.0;
  std::vector<ConstraintResult> constraints;
};

/// Counts of one mode, each with the margins of those before it and one more.
struct MarginCost {
  int central = 0;           ///< nominal supply, central parameters, all pieces alike
  int with_tolerance = 0;    ///< the supply at its ends
  int with_uncertainty = 0;  ///< the lamp's parameters at the unfavourable end of what the captures leave open
  int with_spread = 0;       ///< pieces that differ: max_lamps
};

struct Recommendation {
  std::string channel;
  Mode mode = Mode::none;
  int max_lamps = 0;
  int max_lamps_nominal = 0;
  std::string limited_by;
  std::string next_limit;
  std::string raise_by;    ///< sentence: what would raise the count
  std::string confidence;  ///< "measured", "interpolated" or "extrapolated"
  std::string confidence_reason;
  double min_conduction_deg = 0.0;
  double max_conduction_deg = 180.0;
  /// Of the recommended mode; empty where there is none, the lamp has no circuit, or the channel gives DC.
  std::optional<MarginCost> margins;
  LoadSpread spread;               ///< between samples of the lamp type, as it was allowed for
  std::vector<ModeVerdict> modes;  ///< best first
  std::vector<std::string> not_checked;
  std::vector<std::string> cautions;
};

/// Evaluates every constraint for every mode the channel can do, at every conduction angle it allows, at the upper and
/// lower supply, with the lamp at the unfavourable end of its uncertainty and spread. Counts are searched up to 1000
/// lamps.
Recommendation recommend(const LampEvidence& lamp, const Channel& channel);

}  // namespace lampload
