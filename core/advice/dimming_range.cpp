#include "core/advice/constraint.h"

namespace lampload {

// From where lamps start, run steadily and do not go out: what the sweeps of core/advice/dimming.h find. Looked at only
// where somebody asks for a level, because both sweeps cost as much as all other constraints together.
std::optional<Constraint> dimming_range(const Channel& channel, Mode mode, Missing& missing) {
  if (mode == Mode::on_off) return std::nullopt;
  if (!channel.limits.least_level_percent) {
    missing.emplace_back("dimming_range: limits.least_level_percent");
    return std::nullopt;
  }
  return Constraint{.name = "dimming_range",
                    .quantity = "lowest steady level, power over that at the highest setting,",
                    .unit = "%",
                    .source = "limits.least_level_percent",
                    .limit = *channel.limits.least_level_percent,
                    .eases = true,
                    .at_deg = {0.0},
                    .of_range = [](const DimmingRange& range) {
                      return range.runs && range.steady ? 100.0 * range.least_power_share : 100.0;
                    }};
}

}  // namespace lampload
