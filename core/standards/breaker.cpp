#include "core/standards/breaker.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <numbers>

#include "core/error.h"

namespace lampload {
namespace {

constexpr std::array<BreakerBand, 3> bands = {{{'B', 3.0, 5.0}, {'C', 5.0, 10.0}, {'D', 10.0, 20.0}}};

constexpr std::array<PulseFactor, 7> typical = {
    {{10e-3, 1.0}, {5e-3, 1.1}, {2e-3, 1.3}, {1e-3, 1.7}, {0.5e-3, 2.5}, {0.2e-3, 4.0}, {0.1e-3, 7.0}}};

}  // namespace

const BreakerBand& breaker_band(char curve) {
  for (const BreakerBand& band : bands) {
    if (band.curve == curve) return band;
  }
  throw Error(ErrorCode::input_refused, fmt::format("breaker curve '{}' is not known; expected B, C or D", curve),
              Place{.key = "breaker.curve"});
}

std::span<const PulseFactor> typical_pulse_factors() { return typical; }

double pulse_factor(std::span<const PulseFactor> table, double width_s) {
  if (table.empty()) return 1.0;
  if (width_s >= table.front().width_s) return table.front().factor;
  for (std::size_t i = 1; i < table.size(); ++i) {
    if (width_s < table[i].width_s) continue;
    const double share = std::log(table[i - 1].width_s / width_s) / std::log(table[i - 1].width_s / table[i].width_s);
    return table[i - 1].factor + share * (table[i].factor - table[i - 1].factor);
  }
  return table.back().factor;
}

double no_trip_peak_a(char curve, double rating_a, double factor) {
  return breaker_band(curve).instantaneous_no_trip * rating_a * std::numbers::sqrt2 * factor;
}

}  // namespace lampload
