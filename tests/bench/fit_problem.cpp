// The program's half of tests/bench/against_scipy: makes a noisy turn-on of a lamp, writes the least-squares problem as
// numbers, solves it several times from one start, and prints the optimum and its processor time.
//
//   fit_problem filament|rectifier_capacitor FILE     FILE: where the problem is written

#include <algorithm>
#include <cmath>
#include <ctime>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include "core/lamp/lamp.h"
#include "core/lamp/tungsten.h"
#include "core/standard_normal.h"
#include "core/waveform/figures.h"
#include "fit/lamp_residuals.h"

namespace {

using namespace lampload;

constexpr double interval_s = 20e-6;
constexpr std::size_t samples = 10000;

struct Problem {
  const char* family;
  const char* load_law;
  std::vector<double> truth;  ///< the family's table
  std::vector<double> start;
  std::vector<std::size_t> free;
  double noise_a;
};

const Problem filament = {
    "filament", "", {61.0, 1.1e-12, 1.4e-3, 0.5, 0.0, 0.0}, {90.0, 0.8e-12, 2.2e-3, 0.5, 0.0, 0.0}, {0, 1, 2}, 0.01};
const Problem rectifier = {"rectifier_capacitor",
                           "constant_power",
                           {22.0, 0.0, 0.0, 1.6, 6.8e-6, 0.0, 8.0},
                           {40.0, 0.0, 0.0, 1.6, 4e-6, 0.0, 6.0},
                           {0, 4, 6},
                           0.002};

Capture turn_on(const Problem& problem) {
  std::mt19937_64 random(1);
  Capture capture;
  capture.file = "a turn-on";
  capture.sample_interval_s = interval_s;
  const auto device = Lamp(find_family(problem.family, problem.load_law), problem.truth).device();
  double before = 0.0;
  for (std::size_t k = 0; k < samples; ++k) {
    const double time = static_cast<double>(k) * interval_s;
    const double v = time < 0.0243 ? 0.0 : 325.0 * std::sin(2.0 * std::numbers::pi * 50.0 * time);
    // many small steps: the problem is not made with the step that solves it
    double current = 0.0;
    for (int part = 1; part <= 20; ++part) {
      const double from = before + (v - before) * (part - 1) / 20.0;
      current = device->advance(from, before + (v - before) * part / 20.0, interval_s / 20.0).current_a;
    }
    before = v;
    capture.voltage_v.push_back(v);
    capture.current_a.push_back(current + problem.noise_a * standard_normal(random));
  }
  return capture;
}

nlohmann::json written(const Problem& made, const DrivenCapture& drive, const LampResiduals& residuals) {
  nlohmann::json problem;
  problem["interval_s"] = interval_s;
  problem["voltage_v"] =
      std::vector<double>(drive.voltage_v.begin() + static_cast<std::ptrdiff_t>(drive.bounds.front()),
                          drive.voltage_v.begin() + static_cast<std::ptrdiff_t>(drive.bounds.back()) + 1);
  problem["mean_current_a"] = drive.current_a;
  problem["sigma_a"] = residuals.weights()[0];
  std::vector<bool> fitted;
  for (const Use use : drive.use) fitted.push_back(is_fitted(use));
  problem["fitted"] = fitted;
  for (const std::size_t j : made.free) {
    problem["start"].push_back(made.start[j]);
    problem["names"].push_back(find_family(made.family, made.load_law).parameters[j].name);
  }
  for (double kelvin = 200.0; kelvin <= 4500.0; kelvin += 1.0) {
    problem["temperature_k"].push_back(kelvin);
    problem["resistivity_ratio"].push_back(tungsten_resistivity_ratio(kelvin).value);
    problem["heat_ratio"].push_back(tungsten_heat_ratio(kelvin).value);
  }
  return problem;
}

}  // namespace

int main(int count, char** words) {
  if (count != 3) {
    std::cerr << "usage: fit_problem filament|rectifier_capacitor FILE\n";
    return 2;
  }
  const Problem& problem = std::string(words[1]) == "filament" ? filament : rectifier;
  const Capture capture = turn_on(problem);
  const FamilyInfo& family = find_family(problem.family, problem.load_law);
  const auto index = static_cast<std::size_t>(&family - lamp_families().data());
  const DrivenCapture drive = make_drive(capture, measure(capture), {.coarse_s = interval_s, .fine_s = interval_s});
  const auto residuals = make_residuals(index, {drive}, {});
  std::vector<double> full;
  std::vector<bool> free;
  for (const Unknown& unknown : residuals->layout()) {
    const bool lamp = unknown.kind == Unknown::Kind::lamp;
    double value = 0.0;  // no offset, no delay
    if (lamp) {          // parts that few lamps have stand at the table's end, and are not there
      const ParameterSpec& spec = family.parameters[unknown.index];
      value = to_coordinate(spec, unknown.index < problem.start.size() ? problem.start[unknown.index] : spec.absent);
    }
    if (unknown.kind == Unknown::Kind::bandwidth) value = -std::log(2.0 * std::numbers::pi * fastest_bandwidth_hz);
    full.push_back(value);
    free.push_back(lamp && std::find(problem.free.begin(), problem.free.end(), unknown.index) != problem.free.end());
  }
  residuals->set_free(free, full);
  Box box;
  for (const std::size_t j : residuals->free_unknowns()) {
    box.lower.push_back(residuals->layout()[j].lower);
    box.upper.push_back(residuals->layout()[j].upper);
  }
  std::ofstream(words[2]) << written(problem, drive, *residuals).dump();

  constexpr int repeats = 9;
  std::vector<double> seconds;
  Solution solution;
  for (int n = 0; n < repeats; ++n) {
    const std::clock_t began = std::clock();
    solution = minimise(*residuals, residuals->reduce(full), box);
    seconds.push_back(static_cast<double>(std::clock() - began) / CLOCKS_PER_SEC);
  }
  std::nth_element(seconds.begin(), seconds.begin() + repeats / 2, seconds.end());
  nlohmann::json answer = {
      {"seconds", seconds[repeats / 2]}, {"cost", solution.cost}, {"iterations", solution.iterations}};
  for (const double coordinate : solution.x) answer["parameters"].push_back(std::exp(coordinate));
  std::cout << answer.dump() << '\n';
  return 0;
}
