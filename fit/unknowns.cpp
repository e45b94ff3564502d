#include "fit/unknowns.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace lampload {

double delay_change_sd(double sample_interval_s) {
  constexpr double of_the_probes_s = 1.5e-6;  // another range, another hook: common practice, no source
  constexpr double of_a_sample = 0.05;        // what is left of the instants that no sample shows
  return std::hypot(of_the_probes_s, of_a_sample * sample_interval_s) / delay_scale_s;
}

std::vector<Unknown> unknowns_of(std::span<const ParameterSpec> parameters, std::span<const StateSpec> states,
                                 const std::vector<UsualValue>& usual, const std::vector<DrivenCapture>& drives) {
  std::vector<Unknown> layout;
  for (std::size_t j = 0; j < parameters.size(); ++j) {
    const ParameterSpec& spec = parameters[j];
    layout.push_back({Unknown::Kind::lamp, j, 0, to_coordinate(spec, spec.lower), to_coordinate(spec, spec.upper),
                      spec.prior_sd, to_coordinate(spec, spec.scale), spec.model_sd});
  }
  for (const UsualValue& one : usual) {
    layout[one.parameter].prior_sd = one.sd;
    layout[one.parameter].prior_mean = to_coordinate(parameters[one.parameter], one.value);
  }
  const auto log_time = [](double hz) { return -std::log(2.0 * std::numbers::pi * hz); };
  layout.push_back({Unknown::Kind::bandwidth, 0, 0, log_time(fastest_bandwidth_hz), log_time(slowest_bandwidth_hz),
                    bandwidth_sd, log_time(usual_bandwidth_hz)});
  for (std::size_t c = 0; c < drives.size(); ++c) {
    double largest = 0.0;
    for (const double i : drives[c].current_a) largest = std::max(largest, std::abs(i));
    if (drives[c].frequency_hz > 0.0) {
      layout.push_back({Unknown::Kind::offset, 0, c, -largest, largest, 0.0});
    } else {  // under steady DC nothing tells the clamp's offset from the lamp's current
      const double sd = dc_offset_share * largest;
      const double guess = drives[c].offset_guess_a;
      layout.push_back({Unknown::Kind::offset, 0, c, guess - 3.0 * sd, guess + 3.0 * sd, sd, guess});
    }
    const double delay_sd = std::max(usual_delay_s, 5.0 * drives[c].dt_s) / delay_scale_s;
    layout.push_back({Unknown::Kind::delay, 0, c, -6.0 * delay_sd, 6.0 * delay_sd, delay_sd});
    for (std::size_t s = 0; s < states.size(); ++s) {
      const StateSpec& spec = states[s];
      layout.push_back({Unknown::Kind::state, s, c, spec.lower / spec.unit_size(), spec.upper / spec.unit_size(), 0.0});
    }
  }
  return layout;
}

}  // namespace lampload
