#include "core/waveform/contact_bounce.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace lampload {
namespace {

constexpr double looked_at_s = 20e-3;
constexpr double shortest_s = 50e-6;  // a shorter departure may ring
constexpr double away = 0.25;         // of the amplitude, from the sine
constexpr double back = 0.12;         // of the amplitude: the contact is closed again
constexpr double no_current = 0.03;   // of the surge

}  // namespace

std::optional<ContactBounce> contact_bounce(std::span<const double> voltage_v, std::span<const double> current_a,
                                            double current_offset_a, double interval_s, double frequency_hz,
                                            std::size_t turn_on_sample, double phase_deg, double amplitude_v) {
  const auto span = static_cast<std::size_t>(looked_at_s / interval_s);
  const std::size_t end = std::min(voltage_v.size(), turn_on_sample + span);
  double surge = 0.0;
  for (std::size_t k = turn_on_sample; k < end; ++k) surge = std::max(surge, std::abs(current_a[k] - current_offset_a));
  const auto distance = [&](std::size_t k) {
    const double since_s = static_cast<double>(k - turn_on_sample) * interval_s;
    const double phase = phase_deg * std::numbers::pi / 180.0 + 2.0 * std::numbers::pi * frequency_hz * since_s;
    return std::abs(voltage_v[k] - amplitude_v * std::sin(phase)) / amplitude_v;
  };
  const auto idle = [&](std::size_t k) { return std::abs(current_a[k] - current_offset_a) < no_current * surge; };

  ContactBounce bounce;
  bool closed = false;
  std::size_t opened = 0;
  std::size_t last_closed = turn_on_sample;
  for (std::size_t k = turn_on_sample; k < end; ++k) {
    if (distance(k) < back) {
      const double open_s = static_cast<double>(k - opened) * interval_s;
      if (opened != 0 && open_s >= shortest_s) {
        ++bounce.interruptions;
        last_closed = k;
      }
      closed = true;
      opened = 0;
    } else if (closed && opened == 0 && distance(k) > away && idle(k)) {
      opened = k;
    } else if (opened != 0 && !idle(k)) {
      opened = 0;  // the supply sags under the surge
    }
  }
  if (bounce.interruptions == 0) return std::nullopt;
  bounce.duration_s = static_cast<double>(last_closed - turn_on_sample) * interval_s;
  return bounce;
}

}  // namespace lampload
