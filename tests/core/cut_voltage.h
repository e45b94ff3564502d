#pragma once
// The terminal voltages that families are held against ngspice with.

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

namespace lampload::test {

inline constexpr double cut_frequency_hz = 50.0;
inline constexpr double cut_ramp_s = 5e-6;

/// Terminal voltage as corner points: sine pieces of 20 us, edges as ramps of 5 us.
struct CutVoltage {
  std::vector<double> time_s, voltage_v;
};

/// "cold": leading edge at 90 degrees once, then uncut.
inline CutVoltage cut_voltage(const std::string& cut, double end_s) {
  CutVoltage drive;
  const double omega = 2.0 * std::numbers::pi * cut_frequency_hz;
  const auto add = [&](double t, bool on) {
    drive.time_s.push_back(t);
    drive.voltage_v.push_back(on ? 325.27 * std::sin(omega * t) : 0.0);
  };
  const int half_cycles = static_cast<int>(std::lround(end_s * 2.0 * cut_frequency_hz));
  for (int half = 0; half < half_cycles; ++half) {
    const double start = 0.01 * half;
    for (int i = 0; i < 500; ++i) {
      const double t = start + i * 20e-6;
      const bool late = i >= 250;
      const bool uncut = cut == "uncut" || (cut == "cold" && half > 0);
      if (i == 250 && !uncut) {
        add(t, cut == "trailing");
        add(t + cut_ramp_s, cut != "trailing");
      } else {
        add(t, uncut || (cut != "trailing") == late);
      }
    }
  }
  add(end_s, true);
  return drive;
}

}  // namespace lampload::test
