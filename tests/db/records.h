#pragma once
// Simulated captures and fits of the boathouse, for the tests of the library.

#include <cmath>
#include <numbers>
#include <string>

#include "db/digest.h"
#include "db/library.h"

namespace lampload::test {

inline StoredCapture pendant_capture(const std::string& file = "clubroom_steady.csv", std::size_t samples = 2000) {
  StoredCapture stored;
  Capture& capture = stored.capture;
  capture.file = file;
  capture.start_time_s = -0.01;
  capture.sample_interval_s = 1.0 / 3.0 * 1e-4;
  for (std::size_t i = 0; i < samples; ++i) {
    const double angle = 2.0 * std::numbers::pi * 50.0 * static_cast<double>(i) * capture.sample_interval_s;
    capture.voltage_v.push_back(325.27 * std::sin(angle));
    capture.current_a.push_back(0.1 * std::sin(angle) + 1e-17);
  }
  capture.voltage_step_v = 0.1;
  capture.current_step_a = 1.0 / 256.0;
  capture.clipped.assign(samples, 0);
  capture.clipped[7] = 3;
  capture.notes = {{"clipped_current", Severity::warning, "the current is at the end of its range (\"0.5 A\")"}};

  stored.options.voltage_column = "CH1";
  stored.options.current_column = "3";
  stored.options.voltage_scale = 100.0;
  stored.options.current_scale = 0.1;
  stored.options.current_offset_a = 1.0 / 7.0;
  stored.options.invert_current = true;
  stored.options.sample_interval_s = 1.0 / 30000.0;

  Figures& figures = stored.figures;
  figures.samples = samples;
  figures.sample_rate_hz = 30000.0;
  figures.duration_s = static_cast<double>(samples) / 30000.0;
  figures.mains_frequency_hz = 50.000000000000007;
  figures.voltage_rms_v = 230.1;
  figures.current_rms_a = 0.0707;
  figures.current_peak_a = 0.1;
  figures.active_power_w = 16.3;
  figures.apparent_power_va = 16.31;
  figures.power_factor = 1.0 / 1.0006;
  figures.current_crest_factor = std::numbers::sqrt2;
  figures.cut = {Edge::trailing, 170.5, true};
  figures.turn_on = TurnOn{123, 89.9, false};
  figures.inrush = Inrush{4.19, 1e-3, 0.005, 90.0};
  figures.current_offset_a = -1e-300;
  figures.steady_first = 600;
  figures.steady_last = 1800;
  figures.steady_phase_deg = 12.5;
  figures.quality = capture.notes;

  stored.sha256 = sha256_hex(file);
  stored.provenance = {"rower", "2024-02-29T12:00:00Z", "bench scope, 8 bit", "0.1.0"};
  return stored;
}

inline StoredFit pendant_fit() {
  StoredFit fit;
  fit.accepted = true;
  fit.verdict = "the residual is what the instrument's noise explains";
  fit.family = "rectifier_capacitor";
  fit.load_law = "load_power_w";
  fit.parameters = {{"series_resistance_ohm", "Ohm", 8.2, 0.1, 8.0, 8.4, true, ""},
                    {"reservoir_capacitance_f", "F", 4.7e-6, 0.0, 1e-7, 1e-3, false, "not identified"}};
  fit.derived = {{"rated_power_w", "W", 5.0 / 3.0, 0.01, 1.6, 1.7, true, ""}};
  fit.covariance = {0.1, 1.0 / 3.0, 1.0 / 3.0, 1e-300};
  fit.residual_rms_a = 1.2e-4;
  fit.normalised_residual = 1.04;
  fit.rivals = {{"capacitive_dropper", "", 12.5}, {"resistor", "", 900.0}};
  fit.next_capture = "turn_on";
  fit.next_narrows = "reservoir_capacitance_f";
  fit.next_sentence = "Record the lamp being switched on cold.";
  fit.report = R"({"blocks":1234,"bandwidth_hz":null})";
  fit.seed = 0xFFFFFFFFFFFFFFF0ULL;
  fit.provenance = {"rower", "2024-02-29T12:01:00Z", "", "0.1.0"};
  return fit;
}

inline StoredComparison stair_comparison() {
  StoredComparison stored;
  Comparison& made = stored.comparison;
  made.channel = "stair dimmer";
  made.mode = Mode::trailing_edge;
  made.count = 12;
  made.conduction_deg = 1000.0 / 9.0;
  made.supply_v = 231.4;
  made.phase_deg = 90.0;
  made.figures = {{"current_rms", "A", 0.44, 0.42, 0.38, 0.46, std::nullopt}};
  made.constraints = {{"continuous_current", "A", 0.44, 0.42, 0.38, 0.46, 2.2},
                      {"surge_peak", "A", 41.0, 30.0, 25.0, 36.0, 45.0}};
  stored.file = "stairs.csv";
  stored.sha256 = sha256_hex("stairs.csv");
  stored.provenance = {"rower", "2024-03-01T18:00:00Z", "bench scope, 8 bit", "0.1.0"};
  return stored;
}

}  // namespace lampload::test
