#pragma once
// An invented lamp's signal, files that hold it, and a folder of their own for each test.

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <functional>
#include <numbers>
#include <string>

#include "core/capture/read.h"
#include "core/error.h"

namespace lampload::test {

class InFolder : public testing::Test {
 protected:
  void SetUp() override {
    const auto* test = testing::UnitTest::GetInstance()->current_test_info();
    folder_ =
        std::filesystem::temp_directory_path() / ("lampload_" + std::string(test->name()) + std::to_string(getpid()));
    std::filesystem::create_directories(folder_);
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  [[nodiscard]] std::string place(const std::string& name) const { return (folder_ / name).string(); }
  std::string write(const std::string& bytes, const std::string& name = "capture.csv") const {
    std::ofstream(folder_ / name, std::ios::binary) << bytes;
    return place(name);
  }
  /// What is said of a file that has to be refused.
  [[nodiscard]] static std::string refusal(const std::string& path, const CaptureOptions& options = {}) {
    try {
      read_capture(path, options);
    } catch (const Error& error) {
      EXPECT_EQ(error.code(), ErrorCode::input_refused);
      EXPECT_FALSE(error.remedy().empty()) << error.what();
      return error.what();
    }
    return "accepted";
  }

  std::filesystem::path folder_;
};

inline constexpr std::size_t kRows = 200;
inline double volts(std::size_t k) {
  return std::round(3250.0 * std::sin(2 * std::numbers::pi * static_cast<double>(k) / 100.0)) / 10.0;
}
inline double amperes(std::size_t k) {
  return std::round(400.0 * std::sin(2 * std::numbers::pi * static_cast<double>(k) / 100.0)) / 1000.0;
}

inline std::string number(double value, char decimal, int digits = 4) {
  char text[40];
  std::snprintf(text, sizeof text, "%.*f", digits, value);
  std::string result = text;
  std::replace(result.begin(), result.end(), '.', decimal);
  return result;
}

/// As `row` writes each.
inline std::string rows(const std::function<std::string(std::size_t)>& row) {
  std::string text;
  for (std::size_t k = 0; k < kRows; ++k) text += row(k);
  return text;
}

/// Time [s], volts, amperes.
inline std::string joined(std::size_t k, const std::string& separator, char decimal, double time_factor = 1,
                          double volt_factor = 1, double ampere_factor = 1, const std::string& end = "\n") {
  return number(static_cast<double>(k) * 2e-4 * time_factor, decimal) + separator +
         number(volts(k) * volt_factor, decimal) + separator + number(amperes(k) * ampere_factor, decimal) + end;
}

inline bool has(const Capture& capture, const std::string& code) {
  return std::any_of(capture.notes.begin(), capture.notes.end(), [&](const QualityNote& n) { return n.code == code; });
}

inline void expect_signal(const Capture& capture) {
  ASSERT_EQ(capture.samples(), kRows);
  EXPECT_NEAR(capture.sample_interval_s, 2e-4, 1e-9);
  for (std::size_t k = 0; k < kRows; ++k) {
    ASSERT_NEAR(capture.voltage_v[k], volts(k), 1e-3) << k;
    ASSERT_NEAR(capture.current_a[k], amperes(k), 1e-4) << k;
  }
}

}  // namespace lampload::test
