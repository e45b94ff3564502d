#pragma once
// An invented signal in binary files: written by Python's own modules, or byte by byte as the standards say.

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <numbers>
#include <string>

#include "core/capture/read.h"
#include "tests/core/capture_signal.h"

namespace lampload::binary_signal {

inline constexpr std::size_t samples = 400;
inline double volts(std::size_t k) { return 325.0 * std::sin(2.0 * std::numbers::pi * static_cast<double>(k) / 100.0); }
inline double amperes(std::size_t k) {
  return 0.4 * std::sin(2.0 * std::numbers::pi * static_cast<double>(k) / 100.0 - 0.3);
}

class BinaryForms : public test::InFolder {
 protected:
  /// `script` finds v and i, the signals as lists, and the folder as working directory.
  void python(const std::string& script) const {
    write(
        "import math, struct, wave\n"
        "v = [325 * math.sin(2 * math.pi * k / 100) for k in range(400)]\n"
        "i = [0.4 * math.sin(2 * math.pi * k / 100 - 0.3) for k in range(400)]\n" +
            script,
        "make.py");
    ASSERT_EQ(std::system(("cd '" + folder_.string() + "' && /usr/bin/python3 make.py").c_str()), 0) << script;
  }
};

inline void expect_signal(const Capture& capture, double volt_step, double ampere_step) {
  ASSERT_EQ(capture.samples(), samples);
  EXPECT_NEAR(capture.sample_interval_s, 2e-4, 1e-12);
  for (std::size_t k = 0; k < samples; ++k) {
    ASSERT_NEAR(capture.voltage_v[k], volts(k), 0.51 * volt_step) << k;
    ASSERT_NEAR(capture.current_a[k], amperes(k), 0.51 * ampere_step) << k;
  }
}

/// Of the first note with this code; empty: there is none.
inline std::string message_of(const Capture& capture, const std::string& code) {
  for (const QualityNote& note : capture.notes) {
    if (note.code == code) return note.message;
  }
  return "";
}

// Scales: what full scale is, 500 V and 1 A.
inline CaptureOptions full_scale() {
  CaptureOptions options;
  options.voltage_scale = 500.0;
  return options;
}

}  // namespace lampload::binary_signal
