#include "core/circuit/lamp_trace.h"

#include <algorithm>
#include <cmath>

namespace lampload {

LampTrace::LampTrace(const Network& network, std::span<const std::size_t> reservoirs)
    : network_(network), reservoirs_(reservoirs) {
  for (std::size_t i = 0; i < reservoirs.size(); ++i) {
    const double volt = reservoir_v(i);
    records_.push_back({network.lamp_currents_a()[i], 0.0, volt, volt});
  }
}

double LampTrace::reservoir_v(std::size_t group) const {
  const std::span<const double> state = network_.devices()[group]->state();
  return reservoirs_[group] < state.size() ? state[reservoirs_[group]] : 0.0;
}

void LampTrace::step(double dt_s) {
  const std::span<const double> now_a = network_.lamp_currents_a();
  for (std::size_t i = 0; i < records_.size(); ++i) {
    Record& one = records_[i];
    one.square += square_integral(one.last_a, now_a[i], dt_s);
    one.last_a = now_a[i];
    const double volt = reservoir_v(i);
    one.lowest_v = std::min(one.lowest_v, volt);
    one.highest_v = std::max(one.highest_v, volt);
  }
}

std::vector<LampFigures> LampTrace::figures(double length_s) const {
  std::vector<LampFigures> all;
  for (const Record& one : records_) all.push_back({std::sqrt(one.square / length_s), one.highest_v - one.lowest_v});
  return all;
}

}  // namespace lampload
