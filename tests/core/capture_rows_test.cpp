// Rows of text tables that are not all alike: too many cells, too few, none; and what their time column counts.
#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "core/capture/read.h"
#include "tests/core/capture_signal.h"

namespace lampload::capture_rows_test {
namespace {

using namespace test;

class TextRows : public InFolder {};

double seconds(std::size_t k) { return static_cast<double>(k) * 2e-4; }
std::string volts_text(std::size_t k) { return number(volts(k), '.', 1); }
std::string both(std::size_t k) { return volts_text(k) + "," + number(amperes(k), '.', 3); }
std::string timed(std::size_t k) { return number(seconds(k), '.') + "," + both(k) + "\n"; }
std::string commas(std::string text) {
  std::replace(text.begin(), text.end(), '.', ',');
  return text;
}

// A row with a number too many or too few is never read.
TEST_F(TextRows, RowsWithAWrongNumberOfCellsAreRefused) {
  const auto table = [](const std::string& row) {
    return "time,voltage,current\n" + rows([&](std::size_t k) { return k == 150 ? row + "\n" : timed(k); });
  };
  EXPECT_NE(refusal(write(table("0.03,24,00,0.006")))
                .find(":152: the row \"0.03,24,00,0.006\" has 4 cells, other rows have 3"),
            std::string::npos);
  expect_signal(read_capture(write("time,voltage,current\n" + rows([](std::size_t k) {
                                     return k == 150 ? timed(k).substr(0, timed(k).size() - 1) + ",trigger here\n"
                                                     : timed(k);
                                   }))));
  // One of four is missing: the temperature is no current.
  const std::string missing = refusal(write("time,voltage,current,lamp\n" + rows([](std::size_t k) {
                                              const std::string row = timed(k);
                                              return k == 150
                                                         ? number(seconds(k), '.') + "," + volts_text(k) + ",31.5\n"
                                                         : row.substr(0, row.size() - 1) + ",31.5\n";
                                            })));
  EXPECT_NE(missing.find(":152: the row"), std::string::npos) << missing;
  EXPECT_NE(missing.find("has 3 cells, other rows have 4"), std::string::npos) << missing;
  // A column that ends before the others, with its separators.
  expect_signal(read_capture(write("time,voltage,current,lamp\n" + rows([](std::size_t k) {
                                     const std::string row = timed(k);
                                     return k >= 150 ? row : row.substr(0, row.size() - 1) + ",31.5\n";
                                   }))));
}

TEST_F(TextRows, DecimalCommasBetweenCommasPairUpInOneWayOnly) {
  const auto table = [this](const std::string& row) {
    return write("Zeit,Spannung,Strom\n" +
                 rows([&](std::size_t k) { return k == 150 ? row + "\n" : commas(timed(k)); }));
  };
  // A minus sign begins a number; a fraction of two digits is none of the voltage's, which has one.
  EXPECT_EQ(read_capture(table("0,0300,24,-1,500")).voltage_v[150], 24.0);
  EXPECT_EQ(read_capture(table("0,0300,24,-1,500")).current_a[150], -1.5);
  EXPECT_EQ(read_capture(table("0,0300,24,12,500")).current_a[150], 12.5);
  EXPECT_EQ(read_capture(table("0,0300,24,1")).voltage_v[150], 24.0);
  const std::string said = refusal(table("0,0300,24,1,500"));
  EXPECT_NE(said.find(":152: the cells of \"0,0300,24,1,500\" can be put together to 3 numbers with decimal commas in "
                      "no way, or in more than one. Export it with semicolons or tabs"),
            std::string::npos)
      << said;
}

TEST_F(TextRows, BlankRowsWithoutATimeColumnAreSaid) {
  const auto table = [](const std::string& head, const std::string& blank, bool timed_too) {
    return head + "\n" +
           rows([&](std::size_t k) { return k % 50 == 49 ? blank : (timed_too ? timed(k) : both(k) + "\n"); });
  };
  const std::string untimed = "Sample Interval,2e-4\nvoltage,current";
  EXPECT_TRUE(has(read_capture(write(table(untimed, "\n", false))), "blank_rows"));
  EXPECT_TRUE(has(read_capture(write(table(untimed, ",\n", false))), "blank_rows"));
  EXPECT_FALSE(has(read_capture(write(table("time,voltage,current", "\n", true))), "blank_rows"));
  // A blank line behind every row.
  const auto doubled = write(untimed + "\n" + rows([](std::size_t k) { return both(k) + "\n\n"; }));
  EXPECT_FALSE(has(read_capture(doubled), "blank_rows"));
}

TEST_F(TextRows, AStatedIntervalIsHeldAgainstTheTimeColumn) {
  const auto read = [&](const std::string& head, double first, double step) {
    return read_capture(write(head + "\n" + rows([&](std::size_t k) {
                                return number(first + step * static_cast<double>(k), '.', 7) + "," + both(k) + "\n";
                              })));
  };
  for (const double first : {0.0, 1.0}) {
    const Capture counted = read("Sample Interval,2e-4\nTime,voltage,current", first, 1.0);
    expect_signal(counted);
    EXPECT_TRUE(has(counted, "sample_numbers"));
  }
  expect_signal(read("Sample rate,5 kHz\nTime (s),voltage,current", 0.0, 1.0));
  const Capture other = read("Sample Interval,1e-4\nTime,voltage,current", 0.0, 2e-4);
  EXPECT_TRUE(has(other, "stated_interval"));
  EXPECT_NEAR(other.sample_interval_s, 2e-4, 1e-12);
  // In the unit of the column.
  EXPECT_FALSE(has(read("Sample Interval,0.2\nTime (ms),voltage,current", 0.0, 0.2), "stated_interval"));
  EXPECT_FALSE(has(read("Sample Interval,2e-4\nTime,voltage,current", 0.0, 2e-4), "stated_interval"));
}

}  // namespace
}  // namespace lampload::capture_rows_test
