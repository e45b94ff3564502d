// Time of a whole fit: four captures of one lamp (steady, cold turn-on, leading and trailing edge), 50,000 samples each
// at 100 kS/s, 8-bit steps, every family tried. The captures come from the project's own lamp model: they are for
// timing, and prove nothing.

#include <benchmark/benchmark.h>

#include <cmath>
#include <numbers>
#include <random>

#include "core/lamp/lamp.h"
#include "fit/fit.h"

namespace {

using namespace lampload;

enum class Kind { steady, turn_on, leading, trailing };

Capture capture_of(const Lamp& lamp, Kind kind, double current_range_a) {
  constexpr std::size_t samples = 50000;
  constexpr double dt = 10e-6;
  constexpr double closing_s = 0.0243;  // near a crest
  const double omega = 2.0 * std::numbers::pi * 50.0;
  std::mt19937_64 random(static_cast<std::uint64_t>(kind) + 1);
  const auto noise = [&] { return (static_cast<double>(random() >> 11U) * 0x1p-53 - 0.5) * 1.5; };
  const double volt_step = 800.0 / 256.0;
  const double ampere_step = 2.0 * current_range_a / 256.0;

  const auto device = lamp.device();
  Capture capture;
  capture.file = "synthetic";
  capture.sample_interval_s = dt;
  capture.voltage_step_v = volt_step;
  capture.current_step_a = ampere_step;
  double before = 0.0;
  const std::size_t lead_in = kind == Kind::turn_on ? 0 : 20000;  // unrecorded: until it is settled
  for (std::size_t k = 0; k < samples + lead_in; ++k) {
    const double time = static_cast<double>(k) * dt;
    const double half = std::fmod(omega * time, std::numbers::pi);
    double v = 325.0 * std::sin(omega * time);
    if (kind == Kind::turn_on && time < closing_s) v = 0.0;
    if (kind == Kind::leading && half < 0.5 * std::numbers::pi) v = 0.0;
    if (kind == Kind::trailing && half > 0.6 * std::numbers::pi) v = 0.0;
    const double current = device->advance(before, v, dt).current_a;
    before = v;
    if (k < lead_in) continue;
    capture.voltage_v.push_back(volt_step * std::round(v / volt_step + noise()));
    capture.current_a.push_back(ampere_step * std::round(current / ampere_step + noise()));
  }
  return capture;
}

void fit_four(benchmark::State& state, const Lamp& lamp, double running_range_a, double surge_range_a) {
  const std::vector<Capture> captures = {
      capture_of(lamp, Kind::steady, running_range_a), capture_of(lamp, Kind::turn_on, surge_range_a),
      capture_of(lamp, Kind::leading, 0.4 * surge_range_a), capture_of(lamp, Kind::trailing, running_range_a)};
  std::vector<Figures> figures;
  for (const Capture& capture : captures) figures.push_back(measure(capture));
  for (auto _ : state) {
    const FitResult fit = fit_lamp(captures, figures);
    if (fit.family != lamp.family().name) state.SkipWithError("wrong family");
    benchmark::DoNotOptimize(fit);
  }
}

void reservoir_lamp(benchmark::State& state) {
  fit_four(state, Lamp(find_family("rectifier_capacitor", "constant_power"), {22.0, 0.0, 0.0, 1.5, 6.8e-6, 0.0, 8.0}),
           0.5, 16.0);
}

void filament_lamp(benchmark::State& state) {
  fit_four(state, Lamp(find_family("filament", ""), {61.0, 1.1e-12, 1.4e-3, 0.5, 0.0, 0.0}), 0.5, 6.0);
}

BENCHMARK(reservoir_lamp)
    ->Unit(benchmark::kMillisecond)
    ->UseRealTime()
    ->Iterations(1)
    ->Repetitions(5)
    ->ReportAggregatesOnly();
BENCHMARK(filament_lamp)
    ->Unit(benchmark::kMillisecond)
    ->UseRealTime()
    ->Iterations(1)
    ->Repetitions(5)
    ->ReportAggregatesOnly();

}  // namespace
