#include "tests/accuracy/advice.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "core/advice/load_figures.h"
#include "core/advice/unfavourable.h"
#include "core/circuit/simulated_capture.h"
#include "core/error.h"
#include "fit/fit.h"
#include "tests/accuracy/instrument.h"
#include "tests/accuracy/waveforms.h"

namespace lampload::accuracy {
namespace {

constexpr double supply_v = 230.0;
constexpr double supply_hz = 50.0;
constexpr int draws = 2;  // of each candidate's noise
constexpr double grid_s = 1e-6;
constexpr double lead_in_s = 200e-6;  // an instrument may be late

struct Kind {
  const char* family;
  const char* load_law;
};
constexpr std::array<Kind, 8> kinds = {{{"rectifier_capacitor", "constant_power"},
                                        {"filament", ""},
                                        {"rectifier_capacitor", "led_string"},
                                        {"capacitive_dropper", ""},
                                        {"rectifier_capacitor", "constant_current"},
                                        {"corrected_driver", ""},
                                        {"linear_driver", "two_taps"},
                                        {"inductive", ""}}};

/// Of 230 V; sizes as in tests/blind/draw.py.
Lamp drawn_lamp(const Kind& kind, std::mt19937_64& random) {
  const FamilyInfo& family = find_family(kind.family, kind.load_law);
  const double crest_v = std::sqrt(2.0) * supply_v;
  const std::string_view name = kind.family;
  if (name == "filament") {
    const double watt = log_uniform(random, 20.0, 100.0);
    const double hot_ohm = supply_v * supply_v / watt;
    const double hot_k = uniform(random, 2550.0, 2900.0);
    // the published resistivity goes with about the power 1.2 of the temperature
    const double cold_ohm = hot_ohm / std::pow(hot_k / 300.0, 1.2);
    const double k4 = std::pow(hot_k, 4.0) * std::pow(hot_k / 2800.0, 0.5);
    const double heat = 3.6e-5 * watt * std::pow(watt / supply_v / 0.833, 2.0 / 3.0) * uniform(random, 0.8, 1.25);
    return {family, {cold_ohm, watt / k4, heat, 0.5, 0.0, 0.0}};
  }
  const double watt = log_uniform(random, 3.0, 20.0);
  if (name == "rectifier_capacitor") {
    const double fuse_ohm = log_uniform(random, 0.003, 0.03) * supply_v * supply_v / watt / 2.0;
    const double reservoir_f = watt * log_uniform(random, 0.4e-6, 1.2e-6);
    const double input_f = uniform(random, 0.0, 1.0) < 0.4 ? 0.0 : log_uniform(random, 10e-9, 100e-9);
    std::vector<double> values = {fuse_ohm, 0.0, input_f, uniform(random, 1.3, 1.9), reservoir_f, 0.0};
    const std::string_view law = kind.load_law;
    if (law == "constant_power") {
      values.push_back(watt);
    } else if (law == "constant_current") {
      values.push_back(watt / (0.88 * crest_v));
    } else {
      const double string_v = uniform(random, 0.68, 0.82) * crest_v;
      values.push_back(string_v);
      values.push_back((0.9 * crest_v - string_v) * 0.9 * crest_v / watt);
    }
    return {family, std::move(values)};
  }
  if (name == "capacitive_dropper") {
    const double series_f = log_uniform(random, 0.22e-6, 1.2e-6);
    const double string_v = uniform(random, 0.12, 0.5) * crest_v;
    const double current_a = 4.0 * supply_hz * series_f * (crest_v - string_v);
    const double share = uniform(random, 0.05, 0.25);
    return {
        family,
        {series_f, log_uniform(random, 0.01, 0.06) * supply_v / current_a / 10.0, log_uniform(random, 4e5, 1.5e6), 1.6,
         current_a * 0.01 / (log_uniform(random, 0.01, 0.1) * string_v), string_v, share * string_v / current_a}};
  }
  if (name == "corrected_driver") {
    const double usual_s = 2.0 * watt / (supply_v * supply_v);
    return {family,
            {usual_s * uniform(random, 1.3, 4.0), 2.0 * watt * log_uniform(random, 3e-9, 12e-9),
             uniform(random, 2.0, 20.0), log_uniform(random, 3.0, 40.0), 2.0 * watt, log_uniform(random, 0.015, 0.06)}};
  }
  if (name == "linear_driver") {
    const double ampere = log_uniform(random, 4.0, 12.0) / supply_v;
    return {family,
            {1.6, log_uniform(random, 1e-9, 1e-8), log_uniform(random, 3e5, 3e6), uniform(random, 0.3, 0.5) * crest_v,
             0.7 * ampere, uniform(random, 0.7, 0.88) * crest_v, ampere}};
  }
  const double ohm = supply_v * supply_v / log_uniform(random, 15.0, 100.0);
  const double angle = uniform(random, 0.5, 1.4);
  return {family, {ohm * std::cos(angle), ohm * std::sin(angle) / 314.0}};
}

std::string in_words(const CaptureSetup& setup) {
  const double khz = 1e-3 / setup.sample_interval_s;
  if (setup.edge == Edge::none) return fmt::format("{} {:.0f}k", setup.turn_on ? "turn-on" : "steady", khz);
  return fmt::format("{} {:.0f} {:.0f}k", setup.edge == Edge::leading ? "leading" : "trailing", setup.conduction_deg,
                     khz);
}

/// What the capture would be with a perfect instrument.
Waveform exact(const Lamp& lamp, CaptureSetup setup) {
  setup.sample_interval_s = grid_s;
  setup.voltage_step_v = 0.0;
  setup.current_step_of_peak = 0.0;
  setup.bandwidth_hz = 1e9;
  const Capture perfect = simulate_capture(lamp, supply_v, supply_hz, setup);
  Waveform wave;
  wave.name = in_words(setup);
  wave.grid_s = grid_s;
  wave.first_s = -lead_in_s;
  wave.duration_s = grid_s * static_cast<double>(perfect.samples()) - 2.0 * lead_in_s;
  wave.voltage_v = perfect.voltage_v;
  wave.current_a = perfect.current_a;
  return wave;
}

/// See AdviceTrial::now.
double width_of(const FitResult& fit, std::span<const Figures> figures, const Nominal& nominal) {
  const std::vector<FigureEnds> ends = figure_ends(evidence("lamp", fit, figures, nominal), fit.at);
  double widest = 0.0;
  for (std::size_t k = 0; k < ends.size(); ++k) {
    const auto figure = [&](const Lamp& lamp) { return load_figures(lamp, fit.at).at(k).value; };
    widest = std::max(widest, 0.5 * std::log(figure(ends[k].most) / figure(ends[k].least)));
  }
  return widest;
}

}  // namespace

AdviceTrial advice_trial(std::size_t number, std::mt19937_64& random) {
  const Kind& kind = kinds[number % kinds.size()];
  AdviceTrial trial;
  trial.lamp = std::string(kind.family) + (*kind.load_law != '\0' ? std::string(" ") + kind.load_law : "");
  const Lamp lamp = drawn_lamp(kind, random);
  Nominal nominal;
  nominal.voltage_v = supply_v;
  nominal.frequency_hz = supply_hz;

  // Most people begin with a steady capture; some have an edge or a turn-on too, or nothing but that.
  std::vector<CaptureSetup> setups;
  const auto setup = [&](bool turn_on, Edge edge, double degrees) {
    CaptureSetup one;
    one.turn_on = turn_on;
    one.edge = edge;
    one.conduction_deg = degrees;
    setups.push_back(one);
  };
  if (uniform(random, 0.0, 1.0) < 0.75) setup(false, Edge::none, 180.0);
  const double also = setups.empty() ? 0.0 : uniform(random, 0.0, 1.0);
  if (also < 0.5) {
    const auto which = random() % 3;
    const double degrees = uniform(random, 70.0, 125.0);
    setup(which == 0,
          which == 0   ? Edge::none
          : which == 1 ? Edge::leading
                       : Edge::trailing,
          which == 0 ? 180.0 : degrees);
  }

  // One scope and one pair of probes for all.
  constexpr std::size_t most_candidates = 16;
  const int bits = random() % 2 == 0 ? 8 : 12;
  const std::vector<Instrument> instruments = usual_instruments(random, setups.size() + most_candidates, bits);
  std::vector<Capture> captures;
  std::vector<Figures> figures;
  for (std::size_t c = 0; c < setups.size(); ++c) {
    trial.captures.push_back(in_words(setups[c]));
    captures.push_back(record(exact(lamp, setups[c]), instruments[c], random));
    captures.back().file = trial.captures.back();
    figures.push_back(measure(captures.back(), nominal));
  }
  FitOptions options;
  options.nominal = nominal;
  options.threads = 1;
  const auto families = lamp_families();
  options.families = {static_cast<std::size_t>(&lamp.family() - families.data())};
  const FitResult before = fit_lamp(captures, figures, options);
  if (!before.accepted) {
    trial.refused = before.verdict;
    return trial;
  }
  trial.now = width_of(before, figures, nominal);
  trial.advised = before.next_capture.advised;
  trial.sentence = before.next_capture.sentence;
  options.advise_next_capture = false;
  for (std::size_t k = 0; k < before.next_capture.considered.size(); ++k) {
    const CaptureValue& value = before.next_capture.considered[k];
    AdviceTrial::Taken taken;
    taken.capture = in_words(value.setup);
    for (const LoadFigure& figure : value.figures) taken.promised = std::max(taken.promised, figure.then);
    const Waveform wave = exact(lamp, value.setup);
    Instrument instrument = instruments[setups.size() + k % most_candidates];
    instrument.sample_rate_hz = 1.0 / value.setup.sample_interval_s;
    for (int n = 0; n < draws; ++n) {
      std::vector<Capture> with = captures;
      with.push_back(record(wave, instrument, random));
      with.back().file = "candidate";
      std::vector<Figures> measured = figures;
      try {
        measured.push_back(measure(with.back(), nominal));
        const FitResult fit = fit_lamp(with, measured, options);
        taken.widths.push_back(fit.accepted ? width_of(fit, measured, nominal) : trial.now);
        if (!fit.accepted) taken.refused.push_back(fit.verdict);
      } catch (const Error& error) {
        taken.widths.push_back(trial.now);  // a capture that cannot be used narrows nothing
        taken.refused.emplace_back(error.what());
      }
    }
    trial.candidates.push_back(std::move(taken));
  }
  return trial;
}

}  // namespace lampload::accuracy
