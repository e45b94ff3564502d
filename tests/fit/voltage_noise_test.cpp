// The driving voltage's noise: its size is found, edges stay, smooth stretches lose it.

#include "fit/voltage_noise.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace lampload::voltage_noise_test {
namespace {

std::vector<double> cut_sine(double noise, double step) {
  std::mt19937_64 random(7);
  std::vector<double> samples;
  for (int k = 0; k < 4000; ++k) {
    const double angle = 0.00314159265 * k;
    const double clean = std::fmod(angle, 3.14159265) > 1.2 ? 325.0 * std::sin(angle) : 0.0;
    double sum = -6.0;  // nearly normal, the same with every library
    for (int n = 0; n < 12; ++n) sum += static_cast<double>(random() >> 11U) * 0x1p-53;
    const double noisy = clean + noise * sum;
    samples.push_back(step > 0.0 ? step * std::round(noisy / step) : noisy);
  }
  return samples;
}

TEST(VoltageNoise, IsMeasuredInSpiteOfEdges) {
  EXPECT_NEAR(noise_of(cut_sine(2.0, 0.0), 0.0), 2.0, 0.1);
  // A digitiser's step adds its own: step / sqrt(12), in squares.
  EXPECT_NEAR(noise_of(cut_sine(2.0, 4.0), 4.0), std::hypot(2.0, 4.0 / std::sqrt(12.0)), 0.25);
}

TEST(VoltageNoise, JumpsAreFoundAndNothingElse) {
  const std::vector<double> samples = cut_sine(1.0, 0.0);
  const std::vector<std::size_t> jumps = jumps_of(samples, 1.02, 1.0);
  ASSERT_EQ(jumps.size(), 4U);
  EXPECT_NEAR(static_cast<double>(jumps[0]), 381.0, 1.0);
}

TEST(VoltageNoise, GoesWhereTheWaveformIsSmooth) {
  const std::vector<double> noisy = cut_sine(1.0, 0.0);
  const std::vector<double> clean = cut_sine(0.0, 0.0);
  const Smooth smooth = without_noise(noisy, jumps_of(noisy, 1.02, 1.0), 1.0, 0.0, 50);
  double before = 0.0;
  double after = 0.0;
  double scaled = 0.0;
  for (std::size_t k = 0; k < noisy.size(); ++k) {
    before += (noisy[k] - clean[k]) * (noisy[k] - clean[k]);
    after += (smooth.value[k] - clean[k]) * (smooth.value[k] - clean[k]);
    scaled += (smooth.value[k] - clean[k]) * (smooth.value[k] - clean[k]) / (smooth.sd[k] * smooth.sd[k]);
  }
  EXPECT_LT(after, 0.12 * before);
  // What it says of its own error holds.
  EXPECT_NEAR(scaled / static_cast<double>(noisy.size()), 1.0, 0.4);
}

TEST(VoltageNoise, NoSingleSampleIsLeftRough) {
  std::vector<double> samples;
  std::mt19937_64 random(11);
  for (int k = 0; k < 4000; ++k) {
    double sum = -6.0;
    for (int n = 0; n < 12; ++n) sum += static_cast<double>(random() >> 11U) * 0x1p-53;
    samples.push_back(std::round(170.0 * std::sin(0.00314159265 * k) / 2.0 + 0.26 * sum) * 2.0);  // steps of 2 V
  }
  const Smooth smooth = without_noise(samples, {}, noise_of(samples, 2.0), 2.0, 62);
  std::size_t rough = 0;
  for (const std::size_t window : smooth.window) rough += window < 7 ? 1 : 0;
  EXPECT_EQ(rough, 0U);
}

}  // namespace
}  // namespace lampload::voltage_noise_test
