// Packed parts of fits: what comes back, and against the zstd program.

#include "db/packing.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <limits>
#include <numbers>

#include "core/error.h"
#include "tests/db/temporary_folder.h"
#include "tests/places.h"

namespace lampload::packing_test {
namespace {

const std::string short_report = R"({"blocks":1234,"bandwidth_hz":null,"families":[{"family":"resistor"}]})";

TEST(Packing, ReportsComeBackAndTheirKeysTakeLittleRoom) {
  const std::string frame = packing::packed_report(short_report);
  EXPECT_EQ(packing::report_of(frame), short_report);
  EXPECT_LT(frame.size(), short_report.size());
  EXPECT_EQ(packing::packed_report(""), "");
  EXPECT_EQ(packing::report_of(""), "");
}

TEST(Packing, TheZstdProgramReadsReports) {
  ASSERT_EQ(std::system("zstd --version >/dev/null 2>&1"), 0) << "zstd is missing: .ci/install test";
  const test::TemporaryFolder folder;
  test::write_bytes(folder.file("report.zst"), packing::packed_report(short_report));
  const std::string command = "zstd -dq -D '" + test::source_folder() + "/db/dictionaries/fit_report_1.txt' '" +
                              folder.file("report.zst") + "' -o '" + folder.file("report") + "'";
  EXPECT_EQ(std::system(command.c_str()), 0);
  EXPECT_EQ(test::bytes_of(folder.file("report")), short_report);
}

TEST(Packing, ScreeningFiguresKeepSixteenBinaryDigits) {
  const std::vector<double> values = {0.0, -1.0, 1.0 / 3.0, std::numbers::pi, 1e-12, 4.7e5, 65535.0, 65537.0};
  const std::vector<double> back = packing::screening_of(packing::packed_screening(values));
  ASSERT_EQ(back.size(), values.size());
  for (std::size_t i = 0; i < values.size(); ++i) {
    EXPECT_NEAR(back[i], values[i], std::ldexp(std::abs(values[i]), -16)) << values[i];
  }
  EXPECT_EQ(back[6], 65535.0) << "sixteen digits, kept";
  EXPECT_NE(back[7], 65537.0) << "seventeen";
  for (const double bad : {std::nan(""), std::numeric_limits<double>::infinity(), 1e300}) {
    EXPECT_THROW(packing::packed_screening(std::vector<double>{bad}), Error);
  }
}

TEST(Packing, DamagedFramesAreRefused) {
  const std::vector<double> values = {0.1, 1.0 / 3.0, 1e-300, -2.0};
  const std::string frame = packing::packed_covariance(values);
  EXPECT_EQ(packing::covariance_of(frame), values);
  for (std::size_t i = 0; i < frame.size(); ++i) {
    std::string damaged = frame;
    damaged[i] = static_cast<char>(damaged[i] ^ 0x40);
    try {
      EXPECT_EQ(packing::covariance_of(damaged), values) << "a bit that says nothing, or told: " << i;
    } catch (const Error& error) {
      EXPECT_EQ(error.code(), ErrorCode::library);
    }
    EXPECT_THROW(packing::covariance_of(frame.substr(0, i == 0 ? 1 : i)), Error);
  }
}

}  // namespace
}  // namespace lampload::packing_test
