// Values beyond the instrument's range: clipped samples where they are few, a refusal where they are many.
#include "core/capture/lost_samples.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <numbers>
#include <string>

#include "core/capture/read.h"
#include "core/error.h"
#include "core/waveform/figures.h"

namespace lampload::capture_lost_samples_test {
namespace {

class LostSamples : public testing::Test {
 protected:
  void TearDown() override { std::filesystem::remove(path_); }

  /// Ten cycles of 200 samples; the current's crests beyond `range` are written as `word`.
  std::string with_overload(double range, const std::string& word) const {
    std::ofstream file(path_);
    file << "time_s,voltage_v,current_a\n";
    for (int k = 0; k < 2000; ++k) {
      const double sine = std::sin(2.0 * std::numbers::pi * k / 200.0);
      const double amperes = 2.0 * sine * sine * sine;
      file << k * 1e-4 << ',' << 325.0 * sine << ',';
      if (std::abs(amperes) <= range) {
        file << amperes << '\n';
      } else {
        file << (word.front() == '9' && amperes < 0.0 ? "-" : "") << word << '\n';
      }
    }
    return path_.string();
  }

  std::filesystem::path path_ =
      std::filesystem::temp_directory_path() / ("lampload_lost_samples_" + std::to_string(getpid()) + ".csv");
};

TEST_F(LostSamples, FewAreClippedOnes) {
  for (const char* word : {"9.9e37", "OL", "NaN", "----", "-OL", "OVLD", "OVR", "#N/A", "1.#QNAN", "1.#INF"}) {
    const Capture capture = read_capture(with_overload(1.95, word));
    SCOPED_TRACE(word);
    ASSERT_EQ(capture.clipped.size(), capture.samples());
    std::size_t lost = 0;
    for (std::size_t k = 0; k < capture.samples(); ++k) {
      const double exact = 2.0 * std::pow(std::sin(2.0 * std::numbers::pi * static_cast<double>(k) / 200.0), 3);
      if (std::abs(exact) <= 1.95) continue;
      ++lost;
      EXPECT_EQ(capture.clipped[k], 2) << k;
      // Held at the end of what was seen, with the crest's sign.
      EXPECT_NEAR(capture.current_a[k], std::copysign(1.94, exact), 0.03) << k;
    }
    const auto note = std::find_if(capture.notes.begin(), capture.notes.end(),
                                   [](const QualityNote& one) { return one.code == "overload_current"; });
    ASSERT_NE(note, capture.notes.end());
    EXPECT_EQ(note->severity, Severity::error);
    EXPECT_NE(note->message.find("lay beyond the instrument's range or are missing"), std::string::npos);
    EXPECT_NE(note->message.find("Choose a larger current range"), std::string::npos);
    ASSERT_EQ(note->evidence[0].name, "samples");
    EXPECT_EQ(note->evidence[0].value, static_cast<double>(lost));
    // What is not lost can be used: power within what 5 % of the samples hold, and the same clipping is said once.
    const Figures figures = measure(capture);
    EXPECT_NEAR(figures.active_power_w, 325.0 * 2.0 * 3.0 / 8.0, 0.02 * 243.75);
    EXPECT_TRUE(std::none_of(figures.quality.begin(), figures.quality.end(),
                             [](const QualityNote& one) { return one.code == "clipping_current"; }));
  }
}

TEST_F(LostSamples, ManyAreRefused) {
  try {
    read_capture(with_overload(1.0, "9.9e37"));
    ADD_FAILURE() << "was read";
  } catch (const Error& error) {
    EXPECT_EQ(error.code(), ErrorCode::input_refused);
    EXPECT_NE(error.message().find("of 2000 samples of the current"), std::string::npos) << error.message();
    EXPECT_NE(error.message().find("stand for a value beyond the instrument's range, or for none; the first is sample"),
              std::string::npos);
    EXPECT_NE(std::string(error.what()).find("larger range"), std::string::npos);
  }
}

TEST_F(LostSamples, AreMovedWithTheDelay) {
  CaptureOptions options;
  options.current_delay_s = 20.5e-4;
  const Capture late = read_capture(with_overload(1.95, "9.9e37"), options);
  const Capture plain = read_capture(with_overload(1.95, "9.9e37"));
  ASSERT_EQ(late.clipped.size(), late.samples());
  // The current keeps its own samples; the first 21 are gone.
  for (std::size_t k = 0; k < late.samples(); ++k) EXPECT_EQ(late.clipped[k], plain.clipped[k + 21]) << k;
}

}  // namespace
}  // namespace lampload::capture_lost_samples_test
