// Rarer layouts of text, each by the smallest file that shows it; layouts written down; time axes; other forms.
#include <gtest/gtest.h>

#include <bit>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "core/capture/capture_csv.h"
#include "core/capture/layout_file.h"
#include "core/capture/plain_number.h"
#include "core/capture/text_table.h"
#include "tests/core/capture_signal.h"

namespace lampload::capture_layouts_test {
namespace {

using namespace test;

class Layouts : public InFolder {
 protected:
  [[nodiscard]] Capture with_layout(const std::string& capture, const std::string& layout) const {
    CaptureOptions options;
    options.layout = read_layout_file(write(layout, "capture.layout"));
    return read_capture(capture, options);
  }
};

double seconds(std::size_t k) { return static_cast<double>(k) * 2e-4; }
std::string volts_text(std::size_t k) { return number(volts(k), '.', 1); }
std::string amperes_text(std::size_t k) { return number(amperes(k), '.', 3); }
std::string both(std::size_t k, const std::string& separator = ",") {
  return volts_text(k) + separator + amperes_text(k);
}
std::string timed(std::size_t k, const std::string& separator = ",") {
  return number(seconds(k), '.') + separator + both(k, separator) + "\n";
}
std::string commas(std::string text) {
  std::replace(text.begin(), text.end(), '.', ',');
  return text;
}

const std::vector<std::pair<std::string, std::string>>& layouts() {
  static const std::vector<std::pair<std::string, std::string>> list{
      {"keys beside the rows of two channels", "Key,Value,,Time,Voltage,Current\n" + rows([](std::size_t k) {
                                                 const char* key = k == 0   ? "Sample Interval,2e-4"
                                                                   : k == 1 ? "Vertical Units,V"
                                                                            : ",";
                                                 return std::string(key) + ",," + timed(k);
                                               })},
      {"units in the cells", "Time,Lamp,Clamp\n" + rows([](std::size_t k) {
                               return number(1e3 * seconds(k), '.', 1) + " ms," + volts_text(k) + " V," +
                                      number(1e3 * amperes(k), '.', 0) + " mA\n";
                             })},
      {"units in the cells, of changing size, without a header", rows([](std::size_t k) {
         const std::string current =
             std::abs(amperes(k)) < 0.2 ? number(1e3 * amperes(k), '.', 0) + "mA" : amperes_text(k) + " A";
         return number(1e6 * seconds(k), '.', 0) + " \u00b5s;" + volts_text(k) + "V;" + current + "\n";
       })},
      {"prefixes without a unit", "Time,Voltage,Current\n" + rows([](std::size_t k) {
                                    return number(1e3 * seconds(k), '.', 1) + "m," + volts_text(k) + "," +
                                           number(1e3 * amperes(k), '.', 0) + "m\n";
                                  })},
      {"units behind a spaced slash", "time / ms;voltage / V;current / mA\n" + rows([](std::size_t k) {
                                        return number(1e3 * seconds(k), '.', 1) + ";" + volts_text(k) + ";" +
                                               number(1e3 * amperes(k), '.', 0) + "\n";
                                      })},
      {"unit behind a numbered channel", "Time,CH1 V,CH2 A\n" + rows([](std::size_t k) { return timed(k); })},
      {"start and increment above an index",
       "Start,-0.02\nIncrement,2e-4\nX,CH1 (V),CH2 (A)\nSequence,Volt,Ampere\n" +
           rows([](std::size_t k) { return std::to_string(k) + "," + both(k) + "\n"; })},
      {"start and increment beside the units of an index",
       "X,CH1,CH2,Start,Increment\nSequence,Volt,Ampere,-2.0e-02,2.0e-04\n" +
           rows([](std::size_t k) { return std::to_string(k) + "," + both(k) + ",,\n"; })},
      {"rate, and an index under a hash", "Points: 200\nRate: 5 kSa/s\n#,V,A\n" + rows([](std::size_t k) {
                                            return std::to_string(k + 1) + "," + both(k) + "\n";
                                          })},
      {"a rate and nothing for time",
       "Instrument: recorder of the boathouse\nSampling rate: 5 kS/s\n\nVoltage\tCurrent\nV\tA\n" +
           rows([](std::size_t k) { return both(k, "\t") + "\n"; })},
      {"slower columns between", "time,voltage,current,rms,temperature\n" + rows([](std::size_t k) {
                                   return number(seconds(k), '.') + "," + both(k) + "," + (k % 10 == 0 ? "230.1" : "") +
                                          "," + (k % 20 == 5 ? "25.3" : "") + "\n";
                                 })},
      {"an empty first column between tabs", "note\ttime\tvoltage\tcurrent\n" + rows([](std::size_t k) {
                                               return std::string(k % 50 == 0 ? "x" : "") + "\t" + timed(k, "\t");
                                             })},
      {"a time column for each channel", "t1 (s),u (V),t2 (s),i (A)\n" + rows([](std::size_t k) {
                                           const std::string t = number(seconds(k), '.');
                                           return t + "," + volts_text(k) + "," + t + "," + amperes_text(k) + "\n";
                                         })},
      {"decimal commas between commas, below units", "Zeit,Spannung,Strom\n(ms),(V),(A)\n\n" + rows([](std::size_t k) {
                                                       return commas(number(1e3 * seconds(k), '.', 1)) + "," +
                                                              commas(volts_text(k)) + "," + commas(amperes_text(k)) +
                                                              "\n";
                                                     })},
      {"a header in two languages, the second unknown",
       "Tijd,Spanning,Stroom\nTime,Voltage,Current\n" + rows([](std::size_t k) { return timed(k); })},
      {"a header in two languages, the first unknown",
       "Time,Voltage,Current\nTijd,Spanning,Stroom\n" + rows([](std::size_t k) { return timed(k); })},
      {"two languages in a cell",
       "Zeit/Time [s];Spannung/Voltage [V];Strom/Current [A]\n" + rows([](std::size_t k) { return timed(k, ";"); })},
      {"units above the names", "s,V,A\nTime,C1,C2\n" + rows([](std::size_t k) { return timed(k); })},
      {"\"in\" ahead of the unit", "in s;C1 in V;C2 in A\n" + rows([](std::size_t k) { return timed(k, ";"); })},
      {"sections", "[Header]\nVersion=1\n[Data]\nTime,Voltage,Current\n" +
                       rows([](std::size_t k) { return timed(k); }) + "[End]\n"},
      {"statistics behind the table",
       "time,voltage,current\n" + rows([](std::size_t k) { return timed(k); }) + "\nMin,-325,-0.4\nMax,325,0.4\n"},
      {"bars", "time|voltage|current\n" + rows([](std::size_t k) { return timed(k, "|"); })},
      {"a line that names the separator",
       "sep=;\ntime;voltage;current\n" + rows([](std::size_t k) { return timed(k, ";"); })},
      {"a minus sign of typography", "time;voltage;current\n" + rows([](std::size_t k) {
                                       std::string text = timed(k, ";");
                                       for (auto at = text.find('-'); at != std::string::npos; at = text.find('-')) {
                                         text.replace(at, 1, "\u2212");
                                       }
                                       return text;
                                     })},
      {"dates with a time in world time", "timestamp,voltage,current\n" + rows([](std::size_t k) {
                                            return "2026-02-01T10:00:0" + number(seconds(k), '.') + "Z," + both(k) +
                                                   "\n";
                                          })},
      {"dates with a zone", "timestamp,voltage,current\n" + rows([](std::size_t k) {
                              return "2026-02-01 10:00:0" + number(seconds(k), '.') + "+05:30," + both(k) + "\n";
                            })},
      {"a short zone", "timestamp,voltage,current\n" + rows([](std::size_t k) {
                         return "2026-02-01T10:00:0" + number(seconds(k), '.') + "-0500," + both(k) + "\n";
                       })},
      {"world time in words", "timestamp,voltage,current\n" + rows([](std::size_t k) {
                                return "2026-02-01 10:00:0" + number(seconds(k), '.') + " UTC," + both(k) + "\n";
                              })},
      {"a clock of twelve hours, lower case", "time,voltage,current\n" + rows([](std::size_t k) {
                                                return "1:00:0" + number(seconds(k), '.') + "pm," + both(k) + "\n";
                                              })},
      {"date and time in columns of their own", "Date,Time,Voltage,Current\n" + rows([](std::size_t k) {
                                                  return "2026-02-01,10:00:0" + number(seconds(k), '.') + "," +
                                                         both(k) + "\n";
                                                })},
      {"a clock of twelve hours", "time,voltage,current\n" + rows([](std::size_t k) {
                                    return "10:00:0" + number(seconds(k), '.') + " PM," + both(k) + "\n";
                                  })},
      {"midnight", "time,voltage,current\n" + rows([](std::size_t k) {
                     const std::string clock = k < 100 ? "23:59:59." + number(0.98 + seconds(k), '.').substr(2)
                                                       : "00:00:00." + number(seconds(k - 100), '.').substr(2);
                     return clock + "," + both(k) + "\n";
                   })},
  };
  return list;
}

TEST_F(Layouts, AreUnderstood) {
  for (const auto& [name, text] : layouts()) {
    SCOPED_TRACE(name);
    expect_signal(read_capture(write(text)));
  }
}

// Written down as it was detected, and read by that, with names and units no longer looked at.
TEST_F(Layouts, AreReadByTheLayoutThatWasDetected) {
  for (const auto& [name, text] : layouts()) {
    SCOPED_TRACE(name);
    const std::string path = write(text);
    const std::string layout = layout_text_of(path, {});
    SCOPED_TRACE(layout);
    const Capture found = with_layout(path, layout);
    expect_signal(found);
    EXPECT_TRUE(has(found, "written_layout"));
  }
}

TEST_F(Layouts, StartsStandInTheHeader) {
  const std::string text = "Start,-0.02\nIncrement,2e-4\nX,CH1 (V),CH2 (A)\nSequence,Volt,Ampere\n" +
                           rows([](std::size_t k) { return std::to_string(k) + "," + both(k) + "\n"; });
  EXPECT_EQ(read_capture(write(text)).start_time_s, -0.02);
}

TEST_F(Layouts, AWrittenLayoutReadsWhatIsNotRecognised) {
  const std::string start = "format = lampload-layout\nformat_version = 1.0\n";
  // Six cells a row, and nothing that says they are three numbers.
  const std::string pairs = write(rows([](std::size_t k) { return commas(timed(k)); }));
  EXPECT_NE(refusal(pairs).find("more columns than time, voltage and current"), std::string::npos);
  expect_signal(with_layout(pairs, start + "separator = comma\ndecimal = comma\njoined = pairs\n"));
  // Names that say nothing, values in other units, two lines of numbers that are none of the table.
  const std::string odd = write("7;8;9\n1;2;3\nred;green;blue\n" + rows([](std::size_t k) {
                                  return number(1e3 * amperes(k), ',', 1) + ";" + number(1e6 * seconds(k), ',', 0) +
                                         ";" + number(1e-3 * volts(k), ',', 6) + "\n";
                                }));
  EXPECT_NE(refusal(odd).find("line"), std::string::npos);
  expect_signal(with_layout(odd, start + "# of the boathouse\nseparator = semicolon\ndecimal = comma\nfirst_row = 4\n"
                                         "columns = i, t, u\ntime_column = t\nvoltage_column = u\ncurrent_column = 1\n"
                                         "time_unit = us\nvoltage_unit = kV\ncurrent_unit = mA\n"));
  // What a person says goes first.
  CaptureOptions options;
  options.layout = read_layout_file(place("capture.layout"));
  options.voltage_column = "i";
  EXPECT_NE(refusal(odd, options).find("named twice"), std::string::npos);
}

TEST_F(Layouts, AWrittenLayoutLeavesOpenWhatIsNotClear) {
  const std::string path = write("time,CH1 (V),CH2 (V)\n" + rows([](std::size_t k) { return timed(k); }));
  const std::string layout = layout_text_of(path, {});
  for (const char* part : {"# voltage_column = ?", "# current_column = ?", "#   2 CH1 (V)", "first_row = 2"}) {
    EXPECT_NE(layout.find(part), std::string::npos) << part << " in " << layout;
  }
}

TEST_F(Layouts, DamagedLayoutFilesAreRefused) {
  const std::string start = "format = lampload-layout\nformat_version = 1.0\n";
  const std::vector<std::pair<std::string, std::string>> cases{
      {"", "is empty"},
      {"# nothing\n\n", "holds no layout"},
      {"time,voltage,current\n", ":1: a line \"key = value\" was expected"},
      {"separator = comma\n", ":1, separator: \"format = lampload-layout\" was expected"},
      {"format = lampload-lamp\n", ":1, format: \"format = lampload-layout\" was expected"},
      {"format = lampload-layout\nformat_version = 2.0\n", ":2, format_version: version 2.0"},
      {start + "torque = 1\n", ":3, torque: there is no such key; the keys are format, format_version, separator"},
      {start + "decimal = point\ndecimal = comma\n", ":4, decimal: the key is there twice"},
      {start + "separator = colon\n", "one of comma, semicolon, tab, bar, blanks was expected, found \"colon\""},
      {start + "decimal = .\n", "one of point, comma was expected, found \".\""},
      {start + "joined = yes\n", "one of none, pairs, clock was expected"},
      {start + "first_row = 0\n", "a whole number from 1 on was expected, found \"0\""},
      {start + "first_row = -3\n", "a whole number from 1 on"},
      {start + "first_row = 99999999999999999999\n", "a whole number from 1 on"},
      {start + "columns =\n", "a value was expected behind the equals sign"},
      {start + "voltage_column =\n", ":3, voltage_column: a value was expected"},
      {start + "time_unit = V\n", "a unit of time was expected, found \"V\""},
      {start + "voltage_unit = A\n", "a unit of voltage was expected, found \"A\""},
      {start + "current_unit = x\n", "a unit of current was expected, found \"x\""},
      {start + "sample_interval_s = 0\n", "a number above zero was expected, found \"0\""},
      {start + "sample_interval_s = fast\n", "a number above zero was expected, found \"fast\""},
      {start + "start_time_s = inf\n", "a number was expected, found \"inf\""},
      {start + "separator = comma\ndecimal = comma\n", "a comma cannot be separator and decimal sign"},
      {std::string(start) + '\0' + "\1\2", "binary data"},
  };
  for (const auto& [text, part] : cases) {
    const std::string path = write(text, "bad.layout");
    try {
      (void)read_layout_file(path);
      ADD_FAILURE() << text << " was accepted";
    } catch (const Error& error) {
      EXPECT_EQ(error.code(), ErrorCode::input_refused);
      EXPECT_FALSE(error.remedy().empty());
      EXPECT_NE(std::string(error.what()).find("bad.layout"), std::string::npos);
      EXPECT_NE(std::string(error.what()).find(part), std::string::npos) << part << " in " << error.what();
    }
  }
  const std::string capture = write("time,voltage,current\n" + rows([](std::size_t k) { return timed(k); }));
  CaptureOptions options;
  options.layout = read_layout_file(write(start + "first_row = 900\n", "far.layout"));
  EXPECT_NE(refusal(capture, options).find("numbers begin in line 900"), std::string::npos);
}

TEST_F(Layouts, NumbersWithThousandsSeparatorsAreNamed) {
  const std::string said = refusal(write("time;voltage;current\n" + rows([](std::size_t k) {
                                           return number(seconds(k), '.') + ";1,234.5;" + amperes_text(k) + "\n";
                                         })));
  EXPECT_NE(said.find("column 2 \"voltage\" holds no numbers that can be read, such as \"1,234.5\""), std::string::npos)
      << said;
}

TEST_F(Layouts, ASlowerChannelSetsTheRate) {
  const Capture found = read_capture(write("time,voltage,current\n" + rows([](std::size_t k) {
                                             return number(seconds(k), '.') + "," + volts_text(k) + "," +
                                                    (k % 2 == 0 ? amperes_text(k) : "") + "\n";
                                           })));
  ASSERT_EQ(found.samples(), kRows / 2);
  EXPECT_NEAR(found.sample_interval_s, 4e-4, 1e-12);
  for (std::size_t k = 0; k < found.samples(); ++k) {
    EXPECT_NEAR(found.voltage_v[k], volts(2 * k), 1e-9);
    EXPECT_NEAR(found.current_a[k], amperes(2 * k), 1e-9);
  }
  EXPECT_TRUE(has(found, "slow_column"));
  // Not regular: damaged.
  const std::string said = refusal(write("time,voltage,current\n" + rows([](std::size_t k) {
                                           return number(seconds(k), '.') + "," + volts_text(k) + "," +
                                                  (k % 2 == 0 && k != 40 ? amperes_text(k) : "") + "\n";
                                         })));
  EXPECT_NE(said.find(":42, column current: a number was expected, the cell is empty"), std::string::npos) << said;
}

TEST_F(Layouts, ChannelsOnClocksOfTheirOwnAreJoined) {
  // The current's record begins two samples later.
  const auto table = [](double late) {
    return "Time1,Voltage,Time2,Current\n" + rows([=](std::size_t k) {
             return number(seconds(k), '.', 6) + "," + volts_text(k) + "," + number(seconds(k) + late, '.', 6) + "," +
                    amperes_text(k) + "\n";
           });
  };
  const Capture found = read_capture(write(table(4e-4)));
  ASSERT_EQ(found.samples(), kRows - 2);
  EXPECT_NEAR(found.start_time_s, 4e-4, 1e-12);
  EXPECT_NEAR(found.voltage_v[5], volts(7), 1e-9);
  EXPECT_NEAR(found.current_a[5], amperes(5), 1e-9);
  EXPECT_NE(refusal(write(table(0.7e-4))).find("do not share a time base"), std::string::npos);
}

TEST_F(Layouts, SegmentsAreChosen) {
  const auto in_two = [](const std::string& between, std::size_t columns) {
    return "time,voltage,current\n" + rows([&](std::size_t k) {
             const std::string time = columns == 3 ? number(seconds(k % 100), '.') + "," : "";
             return (k == 100 ? between : std::string()) + time + both(k) + "\n";
           });
  };
  CaptureOptions second;
  second.segment = 2;
  for (const char* between : {"", "\n", "\ntime,voltage,current\n"}) {
    const std::string path = write(in_two(between, 3));
    const std::string said = refusal(path);
    for (const char* part :
         {"time runs backwards, from 0.0198 s to 0 s; the record has 2 segments (1: 100 samples from 0 s "
          "to 0.0198 s, 2: 100 samples",
          "Choose one with --segment 1 to 2"}) {
      EXPECT_NE(said.find(part), std::string::npos) << said;
    }
    const Capture found = read_capture(path, second);
    ASSERT_EQ(found.samples(), 100U);
    EXPECT_EQ(found.voltage_v[7], volts(107));
    EXPECT_TRUE(has(found, "segment_chosen"));
  }
  CaptureOptions third;
  third.segment = 3;
  EXPECT_NE(refusal(place("capture.csv"), third).find("there is no segment 3; the record has 2"), std::string::npos);
  // A gap, and a header that comes again where there is no time.
  const std::string gap = write("time,voltage,current\n" + rows([](std::size_t k) {
                                  return number(seconds(k) + (k < 100 ? 0.0 : 1.0), '.') + "," + both(k) + "\n";
                                }));
  EXPECT_NE(refusal(gap).find(":102: time jumps by"), std::string::npos) << refusal(gap);
  EXPECT_EQ(read_capture(gap, second).samples(), 100U);
  const std::string untimed = write("Sampling rate,5 kHz\nvoltage,current\n" + rows([](std::size_t k) {
                                      return (k == 100 ? "voltage,current\n" : "") + both(k) + "\n";
                                    }));
  EXPECT_NE(refusal(untimed).find("the header is repeated among the rows"), std::string::npos) << refusal(untimed);
  EXPECT_EQ(read_capture(untimed, second).voltage_v[3], volts(103));
  const std::string whole = write("time,voltage,current\n" + rows([](std::size_t k) { return timed(k); }));
  EXPECT_NE(refusal(whole, second).find("there is no segment 2; the record is one piece"), std::string::npos);
}

TEST_F(Layouts, TimeAxesAreMendedAndThatIsSaid) {
  const auto with_time = [&](const std::function<std::string(std::size_t)>& time) {
    return read_capture(
        write("time,voltage,current\n" + rows([&](std::size_t k) { return time(k) + "," + both(k) + "\n"; })));
  };
  const Capture jittery =
      with_time([](std::size_t k) { return number(seconds(k) + (k % 3 == 1 ? 2e-5 : 0.0), '.', 6); });
  EXPECT_TRUE(has(jittery, "time_jitter"));
  EXPECT_NEAR(jittery.sample_interval_s, 2e-4, 1e-6);
  EXPECT_EQ(jittery.samples(), kRows);
  EXPECT_FALSE(has(with_time([](std::size_t k) { return number(seconds(k), '.', 6); }), "time_jitter"));

  const Capture doubled = read_capture(write(
      "time,voltage,current\n" + rows([](std::size_t k) { return timed(k) + (k == 60 ? timed(k) : std::string()); })));
  expect_signal(doubled);
  EXPECT_TRUE(has(doubled, "rows_doubled"));
}

TEST_F(Layouts, AWrittenCaptureComesBackBitForBit) {
  std::mt19937_64 draw(20260201);
  std::uniform_real_distribution<double> wide(-400.0, 400.0);
  Capture capture;
  capture.start_time_s = -0.1 / 3.0;
  capture.sample_interval_s = 1e-3 / 17.0;
  for (int k = 0; k < 5000; ++k) {
    const double wave = std::sin(0.02 * k);
    capture.voltage_v.push_back(325.0 * wave + 1e-3 * wide(draw));
    capture.current_a.push_back(k % 100 == 0 ? std::ldexp(wide(draw), -60 + k % 70) : wave + 1e-9 * wide(draw));
  }
  capture.current_a[3] = 5e-324;
  capture.current_a[4] = -0.0;
  capture.current_a[5] = 0.1 + 0.2;
  const Capture back = read_capture(write(capture_csv(capture, "invented\nin the boathouse")));
  const auto bits = [](const std::vector<double>& values) {
    std::vector<std::uint64_t> found;
    for (const double value : values) found.push_back(std::bit_cast<std::uint64_t>(value));
    return found;
  };
  EXPECT_EQ(bits(back.voltage_v), bits(capture.voltage_v));
  EXPECT_EQ(bits(back.current_a), bits(capture.current_a));
  EXPECT_EQ(back.start_time_s, capture.start_time_s);
  EXPECT_EQ(back.sample_interval_s, capture.sample_interval_s);
}

// Against std::from_chars and strtod, on numbers of every length and size.
TEST_F(Layouts, PlainNumbersAreTheNearestDoubles) {
  std::mt19937_64 draw(7);
  std::vector<std::string> texts{"0",
                                 "-0",
                                 "1",
                                 "9007199254740993",
                                 "9007199254740992.5",
                                 "0.1",
                                 "1e22",
                                 "1e23",
                                 "-1e-22",
                                 "123456789012345678901",
                                 "4.9e-324",
                                 "1.7976931348623157e308",
                                 "0.000001",
                                 "5.",
                                 ".5",
                                 "8.5e-23",
                                 "2.2250738585072011e-308",
                                 "9999999999999999999",
                                 "18446744073709551616"};
  for (int k = 0; k < 20000; ++k) {
    std::string text = k % 2 == 0 ? "-" : "";
    const auto digits = 1 + draw() % 21;
    const auto point = draw() % (digits + 1);
    for (std::uint64_t d = 0; d < digits; ++d) {
      if (d == point) text += '.';
      text += static_cast<char>('0' + draw() % 10);
    }
    if (k % 3 == 0) text.append("e").append(std::to_string(static_cast<int>(draw() % 60) - 30));
    texts.push_back(text);
  }
  for (const std::string& text : texts) {
    double found = 1.5;
    const char* end = read_plain_number(text.data(), text.data() + text.size(), '.', found);
    ASSERT_EQ(end, text.data() + text.size()) << text;
    ASSERT_EQ(std::bit_cast<std::uint64_t>(found), std::bit_cast<std::uint64_t>(std::strtod(text.c_str(), nullptr)))
        << text;
  }
}

// Long enough for several blocks, which threads read: the same numbers as one by one, rows that are not plain between.
TEST_F(Layouts, BlocksAreTakenInOrder) {
  std::string text = "time,voltage,current\n";
  const std::size_t count = 120000;
  for (std::size_t k = 0; k < count; ++k) {
    if (k % 10007 == 5) text += "# a comment\n\n";
    text += number(static_cast<double>(k) * 1e-5, '.', 7) + (k % 997 == 3 ? "," : ", ") +
            number(static_cast<double>(k % 4001) - 2000.0, '.', 2) + (k % 991 == 7 ? " V," : ",") +
            number(1e-3 * static_cast<double>(k % 1009), '.', 5) + "\n";
  }
  const Capture found = read_capture(write(text));
  ASSERT_EQ(found.samples(), count);
  for (std::size_t k = 0; k < count; ++k) {
    ASSERT_EQ(found.voltage_v[k], static_cast<double>(k % 4001) - 2000.0) << k;
    ASSERT_EQ(found.current_a[k], std::stod(number(1e-3 * static_cast<double>(k % 1009), '.', 5))) << k;
  }
  const auto at = text.find("\n", text.size() - 200);
  const std::string said = refusal(write(text.substr(0, at + 1) + "0.9,x,1\n" + text.substr(at + 1)));
  EXPECT_NE(said.find("column voltage: a number was expected, found \"x\""), std::string::npos) << said;
}

}  // namespace
}  // namespace lampload::capture_layouts_test
