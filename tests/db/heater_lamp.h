#pragma once
// A changing-room heater of the boathouse whose figures, circuit and samples agree with each other, as those of a
// measured lamp do. Simulated.

#include <cmath>
#include <numbers>

#include "core/lamp/lamp.h"
#include "db/digest.h"
#include "db/library.h"

namespace lampload::test {

inline LampRecord heater_lamp(std::size_t samples = 400) {
  constexpr double ohm = 530.25;
  StoredCapture stored;
  Capture& capture = stored.capture;
  capture.file = "heater_steady.csv";
  capture.sample_interval_s = 0.1 / static_cast<double>(samples);
  for (std::size_t i = 0; i < samples; ++i) {
    const double t = static_cast<double>(i) * capture.sample_interval_s;
    capture.voltage_v.push_back(325.27 * std::sin(2.0 * std::numbers::pi * 50.0 * t + 0.1));
    capture.current_a.push_back(capture.voltage_v.back() / ohm);
  }
  stored.id = 1;
  stored.sample = first_sample;
  stored.sha256 = sha256_hex(capture.file);
  stored.figures = measure(capture);
  stored.provenance = {"rower", "2024-02-29T12:00:00Z", "bench scope, 8 bit", "0.1.0"};

  LampRecord lamp;
  lamp.name = "changing-room heater";
  lamp.notes = "simulated";
  lamp.nominal.voltage_v = 230.0;
  lamp.nominal.frequency_hz = 50.0;
  lamp.nominal.label_dimmable = true;
  lamp.captures.push_back(stored);
  StoredFit& fit = lamp.fit.emplace();
  fit.accepted = true;
  fit.verdict = "the residual is what the instrument's noise explains";
  fit.family = "resistor";
  fit.parameters = {{"resistance_ohm", "Ohm", ohm, 0.5, ohm - 1.0, ohm + 1.0, true, ""}};
  for (const DerivedFigure& one : find_family("resistor", "").derived(std::vector{ohm}, {230.0, 50.0, 0.0})) {
    fit.derived.push_back({one.name, one.unit, one.value, 0.1, one.value - 0.2, one.value + 0.2, true, ""});
  }
  fit.covariance = {std::pow(0.5 / ohm, 2)};
  fit.residual_rms_a = 1e-4;
  fit.normalised_residual = 1.0;
  fit.rivals = {{"filament", "", 12.5}};
  fit.next_capture = "turn_on";
  fit.next_narrows = "surge_peak";
  fit.next_sentence = "Record the lamp being switched on cold.";
  fit.seed = 0xFFFFFFFFFFFFFFF0ULL;
  fit.capture_ids = {1};
  fit.provenance = stored.provenance;
  fit.spread_source = "default";
  fit.load_spreads = {{"continuous_current", true, 1, 0.05, 0.02, 0.1, 0.0, 1.0}};
  lamp.fits = 1;
  return lamp;
}

}  // namespace lampload::test
