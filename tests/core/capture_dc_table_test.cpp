// DC tables: what is read, and what is refused where.

#include "core/capture/dc_table.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "core/error.h"

namespace lampload::capture_dc_table_test {
namespace {

class DcTable : public testing::Test {
 protected:
  DcTable() : file(std::filesystem::temp_directory_path() / ("dc_table_" + std::to_string(getpid()) + ".csv")) {}
  ~DcTable() override { std::filesystem::remove(file); }
  std::vector<DcPoint> read(const std::string& text) const {
    std::ofstream(file) << text;
    return read_dc_table(file.string());
  }
  Error refusal(const std::string& text) const {
    try {
      read(text);
    } catch (const Error& error) {
      EXPECT_EQ(error.code(), ErrorCode::input_refused);
      EXPECT_EQ(error.place().file, file.string());
      EXPECT_FALSE(error.remedy().empty()) << error.what();
      return error;
    }
    ADD_FAILURE() << "was read: " << text;
    return {ErrorCode::calculation, ""};
  }

  std::filesystem::path file;
};

TEST_F(DcTable, ReadsPointsWithAndWithoutUncertainty) {
  const auto points = read("voltage_v,current_a\n0.5,0.0082\n-230,-0.261\n");
  ASSERT_EQ(points.size(), 2U);
  EXPECT_EQ(points[0].voltage_v, 0.5);
  EXPECT_EQ(points[0].current_a, 0.0082);
  EXPECT_FALSE(points[0].uncertainty_a);
  EXPECT_EQ(points[1].voltage_v, -230.0);

  const auto known =
      read("# taken warm\r\n uncertainty, voltage_v , \"current_a\"\r\n1e-3,10,0.02\r\n,20,0.03\r\n\r\n");
  ASSERT_EQ(known.size(), 2U);
  EXPECT_EQ(known[0].uncertainty_a, 1e-3);
  EXPECT_EQ(known[0].voltage_v, 10.0);
  EXPECT_EQ(known[1].current_a, 0.03);
  EXPECT_FALSE(known[1].uncertainty_a);
}

TEST_F(DcTable, SaysWhereItCannotBeRead) {
  const Error torn = refusal("voltage_v,current_a\n1,0.1\n2,x\n");
  EXPECT_EQ(torn.place().line, 3U);
  EXPECT_EQ(torn.place().column, "current_a");
  EXPECT_EQ(torn.message(), "a number was expected, found 'x'");

  const Error empty = refusal("voltage_v,current_a\n1,0.1\n,0.2\n");
  EXPECT_EQ(empty.place().line, 3U);
  EXPECT_EQ(empty.place().column, "voltage_v");
  EXPECT_EQ(empty.message(), "a number was expected, the cell is empty");

  const Error unknown = refusal("voltage_v,power_w\n1,0.1\n");
  EXPECT_EQ(unknown.place().line, 1U);
  EXPECT_EQ(unknown.place().column, "2");
  EXPECT_EQ(unknown.message(),
            "'power_w' is no column of a DC table; voltage_v, current_a or uncertainty was expected");

  EXPECT_EQ(refusal("voltage_v,voltage_v\n1,0.1\n").message(), "the column voltage_v is there twice");
  EXPECT_EQ(refusal("voltage_v,uncertainty\n1,0.1\n").message(), "the header names no column current_a");
  EXPECT_EQ(refusal("1,0.1\n2,0.2\n").place().line, 1U);
  EXPECT_EQ(refusal("voltage_v,current_a\n").message(), "the table holds no point");

  const Error decimals = refusal("voltage_v,current_a\n1,5,0,2\n");
  EXPECT_EQ(decimals.place().line, 2U);
  EXPECT_EQ(decimals.message(), "4 cells, at most 2 were expected");
  EXPECT_EQ(refusal("voltage_v,current_a\n1,0,5\n").message(), "3 cells, at most 2 were expected");

  const Error turned = refusal("voltage_v,current_a\n10,-0.1\n");
  EXPECT_EQ(turned.place().column, "current_a");
  const Error sure = refusal("voltage_v,current_a,uncertainty\n10,0.1,0\n");
  EXPECT_EQ(sure.place().column, "uncertainty");
  EXPECT_EQ(refusal("voltage_v,current_a\n1,OL\n").place().line, 2U);
}

TEST_F(DcTable, AFileThatIsNotThereIsSaid) { EXPECT_THROW(read_dc_table("/nowhere/table.csv"), Error); }

}  // namespace
}  // namespace lampload::capture_dc_table_test
