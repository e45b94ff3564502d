#include "tests/accuracy/bound.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "core/standard_normal.h"
#include "core/waveform/figures.h"
#include "fit/drive.h"
#include "fit/information.h"
#include "fit/lamp_residuals.h"
#include "tests/accuracy/instrument.h"
#include "tests/accuracy/waveforms.h"

namespace lampload::accuracy {
namespace {

constexpr double rate_hz = 50e3;
/// Half a step of noise and the rounding, of a peak that fills three quarters of the range.
constexpr double noise_of_peak = 0.006;

struct Kind {
  const char* family;
  const char* load_law;
  std::vector<double> typical;  ///< the family's table
  double turn_on_cycles;
};

const std::vector<Kind>& kinds() {
  static const std::vector<Kind> all = {
      {"resistor", "", {800.0}, 4.0},
      {"filament", "", {61.0, 1.0e-12, 2.0e-3, 0.5, 0.0, 0.0}, 8.0},
      {"rectifier_capacitor", "constant_power", {30.0, 0.0, 0.0, 1.6, 6.8e-6, 0.0, 8.0}, 4.0},
      {"rectifier_capacitor", "led_string", {30.0, 0.0, 0.0, 1.6, 6.8e-6, 0.0, 230.0, 1500.0}, 4.0},
      {"capacitive_dropper", "", {4.7e-7, 220.0, 1e6, 1.6, 4.7e-6, 90.0, 600.0}, 4.0},
      {"linear_driver", "two_taps", {1.6, 0.0, 1e6, 140.0, 0.02, 260.0, 0.045}, 4.0},
      {"corrected_driver", "", {8e-4, 1.5e-7, 6.0, 12.0, 15.0, 0.03}, 4.0},
      {"inductive", "", {300.0, 1.2}, 4.0},
  };
  return all;
}

/// What a spec says of a parameter beforehand is where the truth is drawn from; else a third to each side.
double drawn(const ParameterSpec& spec, double typical, std::mt19937_64& random) {
  if (spec.optional) return typical;
  if (spec.prior_sd == 0.0) return typical * std::exp(uniform(random, -0.3, 0.3));
  const double coordinate = to_coordinate(spec, spec.scale) + spec.prior_sd * standard_normal(random);
  return std::clamp(from_coordinate(spec, coordinate), spec.lower, spec.upper);
}

using Spread = std::vector<std::vector<double>>;

}  // namespace

BoundTrial bound_trial(std::size_t number, std::mt19937_64& random) {
  const Kind& kind = kinds()[number % kinds().size()];
  BoundTrial trial;
  trial.family = &find_family(kind.family, kind.load_law);
  trial.lamp = std::string(kind.family) + (*kind.load_law != '\0' ? std::string(" ") + kind.load_law : "");
  const auto& table = trial.family->parameters;
  std::vector<double> values;
  // parts that few lamps have stand at the end
  for (std::size_t j = 0; j < table.size(); ++j)
    values.push_back(j < kind.typical.size() ? drawn(table[j], kind.typical[j], random) : table[j].absent);
  const Lamp lamp(*trial.family, values);

  const double bandwidth_hz = usual_bandwidth_hz * std::exp(bandwidth_sd * standard_normal(random));
  const double delay_s = usual_delay_s * standard_normal(random);
  const bool winding = trial.family->name == "inductive";
  const std::array<Taken, 3> taken = {Taken::steady, winding ? Taken::steady : Taken::turn_on,
                                      winding ? Taken::turn_on : Taken::leading_edge};
  std::vector<double> noise_a;
  std::vector<double> delays_s;
  Spread states;
  std::vector<DrivenCapture> drives;
  for (std::size_t c = 0; c < taken.size(); ++c) {
    const bool from_rest = taken[c] == Taken::turn_on;
    // A filament, or a loop, takes its time.
    Waveform wave = mains(taken[c], from_rest ? kind.turn_on_cycles : 4.0, from_rest ? 1e-3 : 0.6, 1.0 / rate_hz);
    states.push_back(draw_current(lamp, wave));
    const double own_s = c == 0 ? 0.0 : delay_change_sd(1.0 / rate_hz) * delay_scale_s * standard_normal(random);
    delays_s.push_back(delay_s + own_s);
    const std::vector<double> shown = low_pass(wave.current_a, wave.grid_s, bandwidth_hz);
    double peak = 0.0;
    for (const double i : shown) peak = std::max(peak, std::abs(i));
    noise_a.push_back(noise_of_peak * peak);
    Capture capture;
    capture.file = wave.name;
    capture.sample_interval_s = 1.0 / rate_hz;
    const auto count = static_cast<std::size_t>(std::lround(wave.duration_s * rate_hz));
    for (std::size_t k = 0; k < count; ++k) {
      const double time = static_cast<double>(k) / rate_hz;
      capture.voltage_v.push_back(value_at(wave.voltage_v, wave, time));
      capture.current_a.push_back(value_at(shown, wave, time - delays_s[c]) + noise_a[c] * standard_normal(random));
    }
    drives.push_back(
        make_drive(capture, measure(capture), {.coarse_s = 1.0 / rate_hz, .fine_s = 1.0 / rate_hz, .step_s = 2.5e-6}));
    trial.captures.push_back(std::move(capture));
  }

  const auto families = lamp_families();
  const auto index = static_cast<std::size_t>(trial.family - families.data());
  const auto residuals = make_residuals(index, drives, {});
  const auto& layout = residuals->layout();
  std::vector<double> full;
  for (const Unknown& unknown : layout) {
    switch (unknown.kind) {
      case Unknown::Kind::lamp:
        full.push_back(to_coordinate(table[unknown.index], values[unknown.index]));
        break;
      case Unknown::Kind::bandwidth:
        full.push_back(-std::log(2.0 * std::numbers::pi * bandwidth_hz));
        break;
      case Unknown::Kind::offset:
        full.push_back(0.0);
        break;
      case Unknown::Kind::delay:
        full.push_back(delays_s[unknown.capture] / delay_scale_s);
        break;
      case Unknown::Kind::state:
        full.push_back(states[unknown.capture][unknown.index] / trial.family->states[unknown.index].unit_size());
        break;
    }
  }

  // Fisher information of the samples, by central differences of the model's own current.
  std::vector<std::size_t> free;
  for (std::size_t j = 0; j < layout.size(); ++j) {
    const bool absent = layout[j].kind == Unknown::Kind::lamp && table[layout[j].index].optional;
    const bool at_rest = layout[j].kind == Unknown::Kind::state && drives[layout[j].capture].from_rest;
    if (!absent && !at_rest) free.push_back(j);
  }
  const auto n = static_cast<Eigen::Index>(free.size());
  Eigen::MatrixXd information = Eigen::MatrixXd::Zero(n, n);
  for (std::size_t c = 0; c < drives.size(); ++c) {
    const auto blocks = static_cast<Eigen::Index>(drives[c].blocks());
    Eigen::MatrixXd slopes = Eigen::MatrixXd::Zero(blocks, n);
    for (Eigen::Index j = 0; j < n; ++j) {
      const Unknown& unknown = layout[free[static_cast<std::size_t>(j)]];
      const bool shared = unknown.kind == Unknown::Kind::lamp || unknown.kind == Unknown::Kind::bandwidth;
      if (!shared && unknown.capture != c) continue;
      const double step = unknown.kind == Unknown::Kind::delay ? 0.05 : 1e-4;
      std::vector<double> up = full;
      std::vector<double> down = full;
      up[free[static_cast<std::size_t>(j)]] += step;
      down[free[static_cast<std::size_t>(j)]] -= step;
      const std::vector<double> above = residuals->current(up, c, drives[c]);
      const std::vector<double> below = residuals->current(down, c, drives[c]);
      for (Eigen::Index k = 0; k < blocks; ++k) {
        if (!is_fitted(drives[c].use[static_cast<std::size_t>(k)])) continue;
        slopes(k, j) = (above[static_cast<std::size_t>(k)] - below[static_cast<std::size_t>(k)]) / (2.0 * step);
      }
    }
    information += slopes.transpose() * slopes / (noise_a[c] * noise_a[c]);
  }
  Eigen::Index first_delay = -1;
  for (Eigen::Index j = 0; j < n; ++j) {
    const Unknown& unknown = layout[free[static_cast<std::size_t>(j)]];
    if (unknown.kind == Unknown::Kind::delay && first_delay >= 0) {  // those of later captures follow the first
      const double sd = delay_change_sd(drives[unknown.capture].dt_s);
      information(j, j) += 1.0 / (sd * sd);
      information(first_delay, first_delay) += 1.0 / (sd * sd);
      information(j, first_delay) -= 1.0 / (sd * sd);
      information(first_delay, j) -= 1.0 / (sd * sd);
      continue;
    }
    if (unknown.kind == Unknown::Kind::delay) first_delay = j;
    if (unknown.prior_sd > 0.0) information(j, j) += 1.0 / (unknown.prior_sd * unknown.prior_sd);
  }
  const Eigen::MatrixXd bound = inverse_of(information);
  for (Eigen::Index j = 0; j < n; ++j) {
    const Unknown& unknown = layout[free[static_cast<std::size_t>(j)]];
    if (unknown.kind == Unknown::Kind::lamp)
      trial.parameters.push_back({unknown.index, values[unknown.index], std::sqrt(bound(j, j))});
  }
  return trial;
}

}  // namespace lampload::accuracy
