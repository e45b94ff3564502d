#include "core/advice/load_figures.h"

#include <cmath>
#include <span>
#include <string>

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
  return {{std::string(load_figure_names[0]), "A", rms},
          {std::string(load_figure_names[1]), "A", peak},
          {std::string(load_figure_names[2]), "A", surge.peak_a},
          {std::string(load_figure_names[3]), "A s^0.5", std::sqrt(surge.i2t_a2s)}};
}

double running_current_a(const Lamp& lamp, const OperatingPoint& at, const Accuracy& accuracy) {
  const LampGroup group{lamp, 1};
  DrivenChannel channel(ordinary_path(at.voltage_v, at.frequency_hz), std::span(&group, 1), accuracy);
  return channel.steady({Drive::always_on, 180.0}).rms_a;
}

}  // namespace lampload
