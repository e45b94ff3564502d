#include "db/waveform_blob.h"

#include <gtest/gtest.h>

#include <bit>
#include <cmath>
#include <limits>
#include <random>

#include "core/error.h"

namespace lampload::waveform_blob_test {
namespace {

bool same_bits(const std::vector<double>& a, const std::vector<double>& b) {
  return a.size() == b.size() && std::equal(a.begin(), a.end(), b.begin(), [](double x, double y) {
           return std::bit_cast<std::uint64_t>(x) == std::bit_cast<std::uint64_t>(y);
         });
}

TEST(WaveformBlob, AnyBitsComeBack) {
  std::mt19937_64 bits(20240229);
  std::vector<double> values(10'001);
  for (double& value : values) value = std::bit_cast<double>(bits());
  values[0] = -0.0;
  values[1] = std::numeric_limits<double>::denorm_min();
  values[2] = std::numeric_limits<double>::quiet_NaN();
  EXPECT_TRUE(same_bits(blob::unpack(blob::pack(values), values.size()), values));
  EXPECT_TRUE(same_bits(blob::from_plain(blob::plain(values)), values));
}

TEST(WaveformBlob, EmptyArraysComeBack) {
  EXPECT_TRUE(blob::unpack(blob::pack({}), 0).empty());
  EXPECT_TRUE(blob::unpack_bytes(blob::pack_bytes({}), 0).empty());
}

TEST(WaveformBlob, ADigitisedWaveformShrinksToAQuarter) {
  std::vector<double> values;
  for (int i = 0; i < 50'000; ++i) values.push_back(std::round(127.0 * std::sin(i * 0.00628)) / 128.0 * 400.0);
  EXPECT_LT(blob::pack(values).size() * 4, values.size() * sizeof(double));
}

TEST(WaveformBlob, ADamagedFrameIsNoticed) {
  std::vector<double> values(1000);
  for (std::size_t i = 0; i < values.size(); ++i) values[i] = std::sin(static_cast<double>(i));
  const std::string frame = blob::pack(values);
  for (const std::size_t at : {std::size_t{0}, frame.size() / 2, frame.size() - 1}) {
    std::string damaged = frame;
    damaged[at] = static_cast<char>(damaged[at] ^ 0x10);
    EXPECT_THROW(blob::unpack(damaged, values.size()), Error) << "byte " << at;
  }
  EXPECT_THROW(blob::unpack(frame.substr(0, frame.size() - 9), values.size()), Error);
  EXPECT_THROW(blob::unpack(frame, values.size() + 1), Error);
  EXPECT_THROW(blob::unpack("", values.size()), Error);
  EXPECT_THROW(blob::from_plain("1234567"), Error);
}

}  // namespace
}  // namespace lampload::waveform_blob_test
