#include "tests/accuracy/waveforms.h"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <numbers>
#include <stdexcept>

#include "core/standard_normal.h"

namespace lampload::accuracy {
namespace {

constexpr double omega = 2.0 * std::numbers::pi * 50.0;
constexpr double crest_v = 325.27;
constexpr double edge_s = 5e-6;

/// The load law of truth.json is named by the parameter that has its name, or is the family's own.
std::string load_law_of(const std::string& family, const std::string& law) {
  if (family != "rectifier_capacitor") return law;
  if (law == "load_power_w") return "constant_power";
  return law == "load_current_a" ? "constant_current" : "led_string";
}

/// How far a switch is closed, 0 to 1.
double closed(Taken taken, double time_s) {
  const auto ramp = [](double since_s) { return std::clamp(since_s / edge_s, 0.0, 1.0); };
  const double half_s = std::numbers::pi / omega;
  const double phase_s = time_s - half_s * std::floor(time_s / half_s);
  switch (taken) {
    case Taken::steady:
      return 1.0;
    case Taken::turn_on:
      return ramp(time_s - 0.0147);
    case Taken::leading_edge:
      return ramp(phase_s - 0.55 * half_s);
    case Taken::trailing_edge:
      return 1.0 - ramp(phase_s - 0.55 * half_s);
  }
  return 1.0;
}

Lamp drawn_lamp(int kind, std::mt19937_64& random) {
  const double watt = log_uniform(random, 4.0, 40.0);
  switch (kind) {
    case 0: {  // a filament of 230 V: R = V^2 / P hot, a fifteenth of it cold
      const double power = 3.0 * watt;
      return {find_family("filament", ""),
              {crest_v * crest_v / 2.0 / power / 14.5, power * 1.6e-14, power * 3.5e-5, 0.5, 0.0, 0.0}};
    }
    case 1:
      return {find_family("rectifier_capacitor", "constant_power"),
              {log_uniform(random, 100.0, 600.0) / watt, 0.0, 0.0, 1.6, watt * 0.7e-6, 0.0, watt}};
    case 2:
      return {find_family("capacitive_dropper", ""),
              {watt * 4e-8, 2000.0 / watt, 1e6, 1.6, watt * 1e-6, 100.0, 5000.0 / watt}};
    case 3:
      return {find_family("linear_driver", "two_taps"), {1.6, 0.0, 1e6, 140.0, watt / 400.0, 260.0, watt / 250.0}};
    default:
      return {find_family("inductive", ""), {9000.0 / watt, 60.0 / watt}};
  }
}

}  // namespace

SimulatedLamp read_lamp(const std::filesystem::path& folder) {
  std::ifstream in(folder / "truth.json");
  const nlohmann::json truth = nlohmann::json::parse(in);
  SimulatedLamp lamp;
  lamp.name = truth.at("name");
  lamp.family = truth.at("family");
  lamp.load_law = load_law_of(lamp.family, truth.at("load_law"));
  lamp.nominal.voltage_v = truth.at("nominal_voltage_v").get<double>();
  lamp.nominal.frequency_hz = truth.at("nominal_frequency_hz").get<double>();
  for (const auto& one : truth.at("captures")) {
    Waveform wave;
    wave.name = one.at("file");
    wave.grid_s = one.at("grid_s");
    wave.first_s = one.at("first_s");
    wave.duration_s = one.at("duration_s");
    std::ifstream file(folder / wave.name, std::ios::binary);
    std::vector<float> values(std::filesystem::file_size(folder / wave.name) / sizeof(float));
    file.read(reinterpret_cast<char*>(values.data()), static_cast<std::streamsize>(values.size() * sizeof(float)));
    for (std::size_t k = 0; k + 1 < values.size(); k += 2) {
      wave.voltage_v.push_back(values[k]);
      wave.current_a.push_back(values[k + 1]);
    }
    if (wave.voltage_v.size() < 2) throw std::runtime_error((folder / wave.name).string() + " holds no waveform");
    lamp.captures.push_back(std::move(wave));
  }
  return lamp;
}

Waveform mains(Taken taken, double cycles, double lead_in_s, double line_s) {
  Waveform wave;
  wave.name = std::string("capture ") + std::to_string(static_cast<int>(taken));
  wave.duration_s = cycles * 0.02;
  wave.first_s = -lead_in_s;
  const auto count = static_cast<std::size_t>(std::lround((wave.duration_s + lead_in_s + 200e-6) / wave.grid_s));
  for (std::size_t k = 0; k < count; ++k) {
    const double time = wave.first_s + static_cast<double>(k) * wave.grid_s;
    wave.voltage_v.push_back(crest_v * std::sin(omega * time) * closed(taken, time));
  }
  const auto line = static_cast<std::size_t>(std::lround(line_s / wave.grid_s));
  for (std::size_t k = 0; line > 1 && k + line < count; k += line) {
    const double rise = (wave.voltage_v[k + line] - wave.voltage_v[k]) / static_cast<double>(line);
    for (std::size_t j = 1; j < line; ++j) wave.voltage_v[k + j] = wave.voltage_v[k] + static_cast<double>(j) * rise;
  }
  wave.current_a.assign(count, 0.0);
  return wave;
}

std::vector<double> draw_current(const Lamp& lamp, Waveform& wave) {
  const auto device = lamp.device();
  double before = 0.0;
  std::vector<double> state;
  for (std::size_t k = 0; k < wave.voltage_v.size(); ++k) {
    wave.current_a[k] += device->advance(before, wave.voltage_v[k], wave.grid_s).current_a;
    before = wave.voltage_v[k];
    if (wave.first_s + static_cast<double>(k) * wave.grid_s <= 0.5 * wave.grid_s)
      state.assign(device->state().begin(), device->state().end());
  }
  return state;
}

std::vector<Waveform> no_lamp(const std::string& kind, std::mt19937_64& random) {
  std::vector<Waveform> waves = {mains(Taken::steady, 4.0, 0.3)};
  if (kind != "winding")
    waves.push_back(mains(random() % 2 == 0 ? Taken::leading_edge : Taken::trailing_edge, 4.0, 0.3));
  const auto both = [&](const Lamp& lamp) {
    for (Waveform& wave : waves) draw_current(lamp, wave);
  };
  if (kind == "two_lamps") {
    // Unlike ones: a filament, or a driver without reservoir, beside a rectifier or a dropper.
    both(drawn_lamp(random() % 2 == 0 ? 0 : 3, random));
    both(drawn_lamp(random() % 2 == 0 ? 1 : 2, random));
  } else if (kind == "winding") {
    both(drawn_lamp(4, random));
  } else if (kind == "capacitor") {
    const double farad = log_uniform(random, 0.1e-6, 10e-6);
    const double time_constant_s = log_uniform(random, 5e-6, 50e-6);
    for (Waveform& wave : waves) {
      double held_v = 0.0;
      const double decay = std::exp(-wave.grid_s / time_constant_s);
      for (std::size_t k = 0; k < wave.voltage_v.size(); ++k) {
        wave.current_a[k] = (wave.voltage_v[k] - held_v) * farad / time_constant_s;
        held_v = wave.voltage_v[k] + (held_v - wave.voltage_v[k]) * decay;
      }
    }
  } else {
    const double ampere = log_uniform(random, 0.02, 2.0);
    const double burst_s = log_uniform(random, 1e-3, 2e-2);
    const double switching_hz = log_uniform(random, 5e3, 50e3);
    for (Waveform& wave : waves) {
      double height = 0.0;
      double next_s = wave.first_s;
      for (std::size_t k = 0; k < wave.current_a.size(); ++k) {
        const double time = wave.first_s + static_cast<double>(k) * wave.grid_s;
        if (kind == "noise") {
          wave.current_a[k] = ampere * standard_normal(random);
          continue;
        }
        if (time >= next_s) {
          height = random() % 2 == 0 ? 0.0 : uniform(random, -1.0, 1.0);
          next_s += uniform(random, 0.3, 1.0) * burst_s;
        }
        const double saw = time * switching_hz - std::floor(time * switching_hz);
        wave.current_a[k] = ampere * height * saw;
      }
    }
  }
  return waves;
}

}  // namespace lampload::accuracy
