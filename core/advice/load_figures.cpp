#include "core/advice/load_figures.h"

#include <cmath>
#include <span>

#include "core/circuit/drive.h"
#include "core/circuit/simulated_capture.h"

namespace lampload {

std::vector<DerivedFigure> load_figures(const Lamp& lamp, const OperatingPoint& at, const Accuracy& accuracy) {
  if (!(at.frequency_hz > 0.0)) return {};
  const Path path = ordinary_path(at.voltage_v, at.frequency_hz);
  const LampGroup group{lamp, 1};
  DrivenChannel channel(path, std::span(&group, 1), accuracy);
  const double rms = channel.steady({Drive::always_on, 180.0}).rms_a;
  const double peak = channel.steady({Drive::leading_edge, 90.0}).peak_a;
  constexpr double crest_deg = 90.0;
  const TurnOnFigures surge = turn_on(path, std::span(&group, 1), crest_deg, nullptr, accuracy);
  return {{"continuous_current", "A", rms},
          {"repetitive_peak", "A", peak},
          {"surge_peak", "A", surge.peak_a},
          {"surge_i2t", "A s^0.5", std::sqrt(surge.i2t_a2s)}};
}

}  // namespace lampload
