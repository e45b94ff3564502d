// Packed parts of fits: what comes back, and against the zstd program.

#include "db/packing.h"

#include <gtest/gtest.h>

#include <bit>
#include <cmath>
#include <cstdint>
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

TEST(Packing, TheZstdProgramReadsReportsAndEstimates) {
  ASSERT_EQ(std::system("zstd --version >/dev/null 2>&1"), 0) << "zstd is missing: .ci/install test";
  const test::TemporaryFolder folder;
  const auto read = [&](const std::string& name, const std::string& frame) {
    test::write_bytes(folder.file(name + ".zst"), frame);
    const std::string command = "zstd -dq -D '" + test::source_folder() + "/db/dictionaries/fit_" + name + "_1.txt' '" +
                                folder.file(name + ".zst") + "' -o '" + folder.file(name) + "'";
    EXPECT_EQ(std::system(command.c_str()), 0);
    return test::bytes_of(folder.file(name));
  };
  EXPECT_EQ(read("report", packing::packed_report(short_report)), short_report);
  const FitEstimates estimates = {{{"resistance_ohm", "Ohm", 500.25, 0.5, 499.0, 501.0, true, ""}}, {}};
  EXPECT_EQ(read("estimates", packing::packed_estimates(estimates)),
            R"({"parameters":[["resistance_ohm","Ohm",500.25,0.5,499.0,501.0,true,""]],"derived":[]})");
}

TEST(Packing, EstimatesComeBackBitForBit) {
  const FitEstimates estimates = {
      {{"series_resistance_ohm", "Ohm", 1.0 / 3.0, 0.1, 5e-324, 1.7976931348623157e308, true, ""},
       {"reservoir_capacitance_f", "F", 4.7e-6, 0.0, -0.0, 1e-3, false, "\"held\" at 0 \\ µ"}},
      {{"power_factor", "", 0.1 + 0.2, 1e-17, 0.3, 0.30000000000000004, true, ""}}};
  const FitEstimates back = packing::estimates_of(packing::packed_estimates(estimates));
  const auto same = [](const std::vector<StoredEstimate>& a, const std::vector<StoredEstimate>& b) {
    ASSERT_EQ(a.size(), b.size());
    for (std::size_t i = 0; i < a.size(); ++i) {
      EXPECT_EQ(a[i].name + "|" + a[i].unit + "|" + a[i].remark, b[i].name + "|" + b[i].unit + "|" + b[i].remark);
      EXPECT_EQ(a[i].identified, b[i].identified);
      for (const auto member : {&StoredEstimate::value, &StoredEstimate::standard_uncertainty,
                                &StoredEstimate::lower_95, &StoredEstimate::upper_95}) {
        EXPECT_EQ(std::bit_cast<std::uint64_t>(a[i].*member), std::bit_cast<std::uint64_t>(b[i].*member));
      }
    }
  };
  same(back.parameters, estimates.parameters);
  same(back.derived, estimates.derived);
  EXPECT_EQ(packing::packed_estimates({}), "");
  EXPECT_TRUE(packing::estimates_of("").parameters.empty());
}

TEST(Packing, EstimatesThatAreNotOnesAreTold) {
  for (const char* text : {"[]", "{", R"({"parameters":[],"derived":[["x"]]})", R"({"parameters":[]})",
                           R"({"parameters":[["x","","1",0,0,0,true,""]],"derived":[]})"}) {
    try {
      estimates_from_json(text);
      ADD_FAILURE() << text;
    } catch (const Error& error) {
      EXPECT_EQ(error.code(), ErrorCode::library);
    }
  }
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
