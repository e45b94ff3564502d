#pragma once
// Tables for firmware: which conduction angle or duty a lamp on a channel needs for each level of a control.
// docs/dimming.md has the laws and their sources.

#include <cstdint>
#include <string_view>
#include <vector>

#include "core/advice/dimming.h"

namespace lampload {

/// How much a level is to give.
enum class LevelLaw {
  linear,       ///< share = level / levels
  square,       ///< share = (level / levels)^2: the square law of stage and house lighting (IESNA Lighting Handbook)
  lightness,    ///< CIE 1976 lightness L* (CIE 15, ISO/CIE 11664-4) from 0 to 100 in equal steps
  logarithmic,  ///< IEC 62386-102 for 254 levels: 10^((level - 1) / (253 / 3) - 1) per cent; three decades for others
};

/// "linear", "square", "lightness", "logarithmic".
std::string_view law_name(LevelLaw law);

/// Share (0 to 1) that a level of 0 to `levels` is to give; 0 for level 0. Levels between whole ones are allowed.
double target_share(LevelLaw law, double level, int levels);

/// What becomes of levels whose target is below what the lamps can do.
enum class BelowRange {
  hold,    ///< the smallest steady level
  off,     ///< off
  spread,  ///< none: the law runs from the smallest steady level at level 1 to full
};

struct LevelTableOptions {
  LevelLaw law = LevelLaw::lightness;
  int levels = 255;       ///< 1 to 65535; level 0 is off
  bool of_light = false;  ///< the law speaks of estimated light instead of power
  BelowRange below = BelowRange::hold;
  std::int64_t full_count = 65535;  ///< integer that stands for a whole half cycle or period, up to 2^32 - 1
  bool count_delay = false;         ///< integers count from the zero crossing to the firing instead of the conduction
};

struct LevelRow {
  int level = 0;
  double target = 0.0;   ///< share that the law asks for
  double setting = 0.0;  ///< conduction angle in degrees or duty; 0: off
  double share = 0.0;    ///< that the integer below gives, by the dimming curve
  bool reached = true;   ///< false: the target is below the smallest steady level
  std::int64_t count = 0;
};

struct LevelTable {
  std::vector<LevelRow> rows;  ///< level 0 to `levels`
  double least_share = 0.0;    ///< smallest steady level, of what the law speaks of
  int first_reached = 0;       ///< lowest level whose target is reached
  int distinct = 0;            ///< different integers among the levels above 0
};

/// Inverts the rising sweep of the curve between the limits of the range; settings never fall with the level. Throws
/// Error{input_refused} where the lamps do not run, where light is asked for and not estimated, or a number is out of
/// range.
LevelTable level_table(const DimmingCurve& curve, const DimmingRange& range, const LevelTableOptions& options);

}  // namespace lampload
