#include "core/advice/constraint.h"

#include <array>
#include <utility>

namespace lampload {
namespace {

constexpr std::array<ConstraintMaker, 22> makers = {
    continuous_current, switch_temperature, surge_temperature, repetitive_peak, current_rise,    surge_peak,
    surge_i2t,          breaker_trip,       breaker_load,      contact_make,    turn_off_energy, latching_load,
    minimum_load,       two_wire_load,      terminal_release,  ghosting,        dimming_range,   lamp_stress,
    lamp_harmonics,     channel_harmonics,  neutral_current,   voltage_drop};

}  // namespace

std::vector<Constraint> constraints_of(const Channel& channel, Mode mode, Missing& missing) {
  std::vector<Constraint> all;
  for (const ConstraintMaker make : makers) {
    if (std::optional<Constraint> constraint = make(channel, mode, missing)) all.push_back(std::move(*constraint));
  }
  return all;
}

}  // namespace lampload
