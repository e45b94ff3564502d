#include "tests/accuracy/instrument.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "core/standard_normal.h"

namespace lampload::accuracy {
namespace {

template <std::size_t N>
double one_of(std::mt19937_64& random, const std::array<double, N>& values) {
  return values[static_cast<std::size_t>(random() % N)];
}

/// From the 1-2-5 row of volts or amperes a division, so that the peak stays within four of them; 25 codes of 8 bits
/// make a division. [unit of the peak, per 8-bit code]
double step_for(double peak) {
  const double decade = std::pow(10.0, std::floor(std::log10(std::max(peak, 1e-9) / 4.0)));
  for (const double division : {1.0, 2.0, 5.0, 10.0}) {
    if (4.0 * division * decade >= 1.03 * peak) return division * decade / 25.0;
  }
  return 20.0 * decade / 25.0;
}

struct Digitised {
  std::vector<double> values;
  double step;
};

Digitised digitise(std::vector<double> values, double offset_steps, const Instrument& instrument,
                   std::mt19937_64& random) {
  double peak = 0.0;
  for (const double x : values) peak = std::max(peak, std::abs(x));
  const double eight_bits = step_for(peak * instrument.unused_range);
  const double step = eight_bits * std::pow(2.0, 8 - instrument.bits);
  const double highest = std::pow(2.0, instrument.bits - 1);
  for (double& x : values) {
    const double shown = x + (offset_steps + instrument.noise_steps * standard_normal(random)) * eight_bits;
    x = step * std::clamp(std::round(shown / step), -highest, highest - 1.0);
  }
  return {std::move(values), step};
}

}  // namespace

double uniform(std::mt19937_64& random, double low, double high) {
  return low + (high - low) * static_cast<double>(random() >> 11U) * 0x1p-53;
}

double log_uniform(std::mt19937_64& random, double low, double high) {
  return std::exp(uniform(random, std::log(low), std::log(high)));
}

std::vector<Instrument> usual_instruments(std::mt19937_64& random, std::size_t captures, int bits) {
  Instrument base;
  base.bits = bits;
  base.voltage_bandwidth_hz = log_uniform(random, 300e3, 5e6);
  base.clamp_bandwidth_hz = log_uniform(random, 20e3, 100e3);
  base.clamp_delay_s = uniform(random, -20e-6, 20e-6);
  base.noise_steps = uniform(random, 0.2, 0.8);
  const double voltage_error = 0.005 * standard_normal(random);
  const double current_error = 0.01 * standard_normal(random);
  std::vector<Instrument> all;
  for (std::size_t c = 0; c < captures; ++c) {
    Instrument one = base;
    one.sample_rate_hz = one_of(random, std::array{25e3, 50e3, 100e3});
    one.voltage_gain = 1.0 + voltage_error + 0.0025 * standard_normal(random);
    one.current_gain = 1.0 + current_error + 0.005 * standard_normal(random);
    one.voltage_offset_steps = uniform(random, -0.7, 0.7);
    one.current_offset_steps = uniform(random, -1.5, 1.5);
    all.push_back(one);
  }
  return all;
}

std::vector<Instrument> odd_instruments(std::mt19937_64& random, std::size_t captures) {
  std::vector<Instrument> all = usual_instruments(random, captures, 8 + 2 * static_cast<int>(random() % 3));
  const double delay_s = uniform(random, -60e-6, 60e-6);
  const double noise = log_uniform(random, 0.2, 3.0);
  const bool reversed = uniform(random, 0.0, 1.0) < 0.2;
  for (Instrument& one : all) {
    one.sample_rate_hz = one_of(random, std::array{20e3, 25e3, 50e3, 100e3, 200e3, 250e3, 500e3, 1e6});
    one.clamp_delay_s = delay_s;
    one.noise_steps = noise;
    if (reversed) one.current_gain = -one.current_gain;
    one.current_offset_steps *= 6.0;
    one.unused_range = log_uniform(random, 1.0, 5.0);
    one.kept = uniform(random, 0.4, 1.0);
  }
  return all;
}

std::vector<double> low_pass(const std::vector<double>& values, double grid_s, double bandwidth_hz) {
  const double rate = 2.0 * std::numbers::pi * bandwidth_hz;
  const double decay = std::exp(-rate * grid_s);
  std::vector<double> shown = values;
  for (std::size_t k = 1; k < values.size(); ++k) {
    const double lag = (values[k] - values[k - 1]) / (rate * grid_s);
    shown[k] = values[k] - lag + (shown[k - 1] - values[k - 1] + lag) * decay;
  }
  return shown;
}

double value_at(const std::vector<double>& values, const Waveform& wave, double time_s) {
  const double place = std::clamp((time_s - wave.first_s) / wave.grid_s, 0.0, static_cast<double>(values.size() - 1));
  const auto before = std::min(static_cast<std::size_t>(place), values.size() - 2);
  const double share = place - static_cast<double>(before);
  return values[before] + (values[before + 1] - values[before]) * share;
}

Capture record(const Waveform& wave, const Instrument& instrument, std::mt19937_64& random) {
  Capture capture;
  capture.file = wave.name;
  capture.sample_interval_s = 1.0 / instrument.sample_rate_hz;
  const std::vector<double> voltage = low_pass(wave.voltage_v, wave.grid_s, instrument.voltage_bandwidth_hz);
  const std::vector<double> current = low_pass(wave.current_a, wave.grid_s, instrument.clamp_bandwidth_hz);
  const auto count =
      static_cast<std::size_t>(std::floor(wave.duration_s * instrument.kept * instrument.sample_rate_hz + 1e-6));
  std::vector<double> v;
  std::vector<double> i;
  for (std::size_t k = 0; k < count; ++k) {
    const double time = static_cast<double>(k) * capture.sample_interval_s;
    v.push_back(instrument.voltage_gain * value_at(voltage, wave, time));
    i.push_back(instrument.current_gain * value_at(current, wave, time - instrument.clamp_delay_s));
  }
  Digitised volts = digitise(std::move(v), instrument.voltage_offset_steps, instrument, random);
  Digitised amperes = digitise(std::move(i), instrument.current_offset_steps, instrument, random);
  capture.voltage_v = std::move(volts.values);
  capture.voltage_step_v = volts.step;
  capture.current_a = std::move(amperes.values);
  capture.current_step_a = amperes.step;
  return capture;
}

}  // namespace lampload::accuracy
