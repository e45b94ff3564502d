#pragma once
// Scopes drawn at random: an exact waveform in, the capture that one of them would have shown out.

#include <array>
#include <random>
#include <string>
#include <vector>

#include "core/capture/capture.h"

namespace lampload::accuracy {

/// Voltage and current at a lamp's terminals before any instrument, on an even grid. The record begins at 0 s; the
/// waveform a little before it, so that an instrument can be late.
struct Waveform {
  std::string name;
  double grid_s = 1e-6;
  double first_s = 0.0;
  double duration_s = 0.0;  ///< of the record
  std::vector<double> voltage_v;
  std::vector<double> current_a;
};

/// One scope with its probes, as it stands for one capture.
struct Instrument {
  int bits = 8;
  double sample_rate_hz = 50e3;
  double voltage_bandwidth_hz = 2e6;
  double clamp_bandwidth_hz = 40e3;
  double clamp_delay_s = 0.0;
  double voltage_gain = 1.0;
  double current_gain = 1.0;
  double voltage_offset_steps = 0.0;  ///< of 8 bits
  double current_offset_steps = 0.0;
  double noise_steps = 0.4;   ///< standard deviation of both channels, of 8 bits: the amplifier's, not the converter's
  double unused_range = 1.0;  ///< how many times larger the range is than need be
  double kept = 1.0;          ///< share of the record, from its beginning
};

double uniform(std::mt19937_64& random, double low, double high);
double log_uniform(std::mt19937_64& random, double low, double high);

/// Instruments for the captures of one lamp: one scope and one pair of probes; rate, offset and the error of the range
/// differ from capture to capture. The gains err as the fit is told that they may: 0.5 % of the voltage, 1 % of the
/// current, half of it again for each range. Usual ones have 25 to 100 kS/s.
std::vector<Instrument> usual_instruments(std::mt19937_64& random, std::size_t captures, int bits);

/// 20 kS/s to 1 MS/s, noisy, badly ranged, short, with late or early clamps, one in five of them reversed.
std::vector<Instrument> odd_instruments(std::mt19937_64& random, std::size_t captures);

Capture record(const Waveform& wave, const Instrument& instrument, std::mt19937_64& random);

/// One pole, exact for straight lines between the points of the grid.
std::vector<double> low_pass(const std::vector<double>& values, double grid_s, double bandwidth_hz);

/// Straight lines between the points of the grid.
double value_at(const std::vector<double>& values, const Waveform& wave, double time_s);

}  // namespace lampload::accuracy
