// One fit of the accuracy study (docs/accuracy.md): tests/accuracy/run calls this program and judges what it prints,
// one JSON document. The answer depends on the numbers alone.
//
//   accuracy_study own|all|odd NUMBER SEED FOLDER   a lamp that ngspice has simulated, the NUMBER-th draw of
//   instruments:
//       own: the true family alone; all: every family; both with usual instruments, of 8 bits where NUMBER is even,
//       else of 12; odd: every family, odd instruments
//   accuracy_study bound NUMBER SEED                the project's own models, against the Cramer-Rao bound
//   accuracy_study no_lamp NUMBER SEED              what is no lamp
//   accuracy_study advice NUMBER SEED               what each capture that could be taken next does, and the advised
//   one

#include <array>
#include <cmath>
#include <cstdlib>
#include <ctime>
#include <exception>
#include <iostream>
#include <nlohmann/json.hpp>
#include <random>
#include <string>
#include <vector>

#include "core/capture/conditioning.h"
#include "core/error.h"
#include "fit/fit.h"
#include "tests/accuracy/advice.h"
#include "tests/accuracy/bound.h"
#include "tests/accuracy/instrument.h"
#include "tests/accuracy/waveforms.h"

namespace lampload::accuracy {
namespace {

std::mt19937_64 random_of(std::uint64_t seed, std::uint64_t number) {
  std::seed_seq words{static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(number)};
  return std::mt19937_64(words);
}

Nominal european_mains() {
  Nominal nominal;
  nominal.voltage_v = 230.0;
  nominal.frequency_hz = 50.0;
  return nominal;
}

std::size_t index_of(std::string_view family, std::string_view load_law) {
  const auto families = lamp_families();
  for (std::size_t f = 0; f < families.size(); ++f) {
    if (families[f].name == family && families[f].load_law == load_law) return f;
  }
  throw std::runtime_error("no family " + std::string(family) + " with load law " + std::string(load_law));
}

nlohmann::json json_of(const std::vector<Estimate>& estimates) {
  nlohmann::json json = nlohmann::json::object();
  for (const Estimate& one : estimates) {
    json[one.name] = {{"value", one.value},
                      {"interval", {one.lower_95, one.upper_95}},
                      {"standard_uncertainty", one.standard_uncertainty},
                      {"identified", one.identified},
                      {"remark", one.remark}};
  }
  return json;
}

/// Measures and fits; what went wrong is part of the answer.
nlohmann::json answer(std::vector<Capture> captures, const Nominal& nominal, FitOptions options) {
  nlohmann::json line;
  const std::clock_t began = std::clock();
  try {
    std::vector<Figures> figures;
    nlohmann::json warnings = nlohmann::json::array();
    for (Capture& capture : captures) {
      // As reading a file does: a reversed clamp is turned. Captures without steps are no digitiser's.
      if (capture.current_step_a > 0.0) condition(capture, {});
      figures.push_back(measure(capture, nominal));
      for (const QualityNote& note : figures.back().quality) {
        if (note.severity != Severity::note) warnings.push_back(note.code);
      }
    }
    line["warnings"] = warnings;
    options.nominal = nominal;
    options.threads = 1;
    options.advise_next_capture = false;
    const FitResult fit = fit_lamp(captures, figures, options);
    line["accepted"] = fit.accepted;
    line["verdict"] = fit.verdict;
    line["family"] = fit.family;
    line["load_law"] = fit.load_law;
    line["parameters"] = json_of(fit.parameters);
    line["derived"] = json_of(fit.derived);
    line["normalised_residual"] = fit.normalised_residual;
    line["unexplained"] = nlohmann::json::array();
    line["quiet"] = nlohmann::json::array();
    for (const CaptureFit& one : fit.captures) {
      line["unexplained"].push_back(one.unexplained_share);
      line["quiet"].push_back(one.quiet_power_share);
    }
    line["rivals"] = nlohmann::json::array();
    for (const Rival& rival : fit.rivals) {
      line["rivals"].push_back({{"family", rival.family}, {"load_law", rival.load_law}, {"distance", rival.distance}});
    }
  } catch (const Error& error) {
    line["refused"] = error.what();
  }
  line["processor_s"] = static_cast<double>(std::clock() - began) / CLOCKS_PER_SEC;
  return line;
}

nlohmann::json simulated(const std::string& mode, std::size_t number, std::uint64_t seed, const SimulatedLamp& lamp) {
  std::mt19937_64 random = random_of(seed, number);
  const bool odd = mode == "odd";
  const int bits = number % 2 == 0 ? 8 : 12;
  const std::vector<Instrument> instruments =
      odd ? odd_instruments(random, lamp.captures.size()) : usual_instruments(random, lamp.captures.size(), bits);
  std::vector<Capture> captures;
  double fastest_hz = 0.0;
  for (std::size_t c = 0; c < lamp.captures.size(); ++c) {
    // Who measures oddly may well have fewer captures; but one.
    if (odd && uniform(random, 0.0, 1.0) < 0.3 && (c + 1 < lamp.captures.size() || !captures.empty())) continue;
    captures.push_back(record(lamp.captures[c], instruments[c], random));
    fastest_hz = std::max(fastest_hz, instruments[c].sample_rate_hz);
  }
  FitOptions options;
  if (mode == "own") options.families = {index_of(lamp.family, lamp.load_law)};
  nlohmann::json line = answer(captures, lamp.nominal, options);
  line["lamp"] = lamp.name;
  line["captures"] = captures.size();
  line["fastest_hz"] = fastest_hz;
  line["bits"] = instruments[0].bits;
  line["true_load_law"] = lamp.load_law;
  return line;
}

nlohmann::json of_no_lamp(std::size_t number, std::uint64_t seed) {
  constexpr std::array kinds = {"capacitor", "two_lamps", "switching", "noise", "winding"};
  std::mt19937_64 random = random_of(seed, number);
  const std::string kind = kinds[number % kinds.size()];
  const std::vector<Waveform> waves = no_lamp(kind, random);
  const auto instruments = usual_instruments(random, waves.size(), random() % 2 == 0 ? 8 : 12);
  std::vector<Capture> captures;
  for (std::size_t c = 0; c < waves.size(); ++c) captures.push_back(record(waves[c], instruments[c], random));
  nlohmann::json line = answer(captures, european_mains(), {});
  line["kind"] = kind;
  return line;
}

nlohmann::json against_bound(std::size_t number, std::uint64_t seed) {
  std::mt19937_64 random = random_of(seed, number);
  const BoundTrial trial = bound_trial(number, random);
  FitOptions options;
  options.families = {index_of(trial.family->name, trial.family->load_law)};
  options.voltage_gain_uncertainty = 0.0;  // there is no gain error in these captures
  options.current_gain_uncertainty = 0.0;
  nlohmann::json line = answer(trial.captures, european_mains(), options);
  line["lamp"] = trial.lamp;
  for (const BoundTrial::Parameter& one : trial.parameters) {
    const ParameterSpec& spec = trial.family->parameters[one.index];
    nlohmann::json entry = {{"truth", one.truth}, {"bound_sd", one.bound_sd}};
    if (line.contains("parameters")) {
      const nlohmann::json& found = line["parameters"][std::string(spec.name)];
      const auto coordinate = [&](const nlohmann::json& value) { return to_coordinate(spec, value.get<double>()); };
      entry["error_in_bounds"] = (coordinate(found["value"]) - to_coordinate(spec, one.truth)) / one.bound_sd;
      entry["half_interval_in_bounds"] =
          0.5 * (coordinate(found["interval"][1]) - coordinate(found["interval"][0])) / one.bound_sd;
    }
    line["bound"][std::string(spec.name)] = entry;
  }
  return line;
}

nlohmann::json of_advice(std::size_t number, std::uint64_t seed) {
  std::mt19937_64 random = random_of(seed, number);
  const std::clock_t began = std::clock();
  nlohmann::json line;
  try {
    const AdviceTrial trial = advice_trial(number, random);
    line["lamp"] = trial.lamp;
    line["captures"] = trial.captures;
    line["now"] = trial.now;
    line["sentence"] = trial.sentence;
    if (!trial.refused.empty()) line["refused"] = trial.refused;
    if (trial.advised) line["advised"] = *trial.advised;
    line["candidates"] = nlohmann::json::array();
    for (const AdviceTrial::Taken& one : trial.candidates)
      line["candidates"].push_back(
          {{"capture", one.capture}, {"promised", one.promised}, {"widths", one.widths}, {"refused", one.refused}});
  } catch (const Error& error) {
    line["refused"] = error.what();
  }
  line["processor_s"] = static_cast<double>(std::clock() - began) / CLOCKS_PER_SEC;
  return line;
}

int run(const std::vector<std::string>& words) {
  const std::string& mode = words.at(1);
  const std::size_t number = std::stoul(words.at(2));
  const std::uint64_t seed = std::stoull(words.at(3));
  nlohmann::json line;
  if (mode == "no_lamp") {
    line = of_no_lamp(number, seed);
  } else if (mode == "bound") {
    line = against_bound(number, seed);
  } else if (mode == "advice") {
    line = of_advice(number, seed);
  } else {
    line = simulated(mode, number, seed, read_lamp(words.at(4)));
  }
  std::cout << line.dump() << std::endl;
  return 0;
}

}  // namespace
}  // namespace lampload::accuracy

int main(int count, char** words) {
  try {
    return lampload::accuracy::run({words, words + count});
  } catch (const std::exception& error) {
    std::cerr << "accuracy_study: " << error.what() << '\n';
    return 1;
  }
}
