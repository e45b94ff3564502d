#pragma once
// A lamp's dimming behaviour and its level table: as text for people, and as CSV, JSON and a C header for firmware.

#include <string>
#include <vector>

#include "cli/terminal.h"
#include "core/advice/level_table.h"

namespace lampload {

struct LampCurve {
  std::string lamp;
  std::string channel;
  int count = 1;
  std::vector<DimmingCurve> curves;  ///< the nominal one first, then other supplies and counts
  DimmingRange range;                ///< that holds for all of them
  LevelTableOptions options;
  LevelTable table;
  std::vector<std::string> cautions = {};  ///< of a lamp that came from elsewhere

  [[nodiscard]] const DimmingCurve& nominal() const { return curves.front(); }
};

void show_curve(Screen& screen, const LampCurve& curve);
/// Comment lines, a header line, a row a level.
std::string curve_csv(const LampCurve& curve);
std::string curve_json(const LampCurve& curve);
/// A C99 header with the integers; names begin with the lamp's name.
std::string curve_c(const LampCurve& curve);

}  // namespace lampload
