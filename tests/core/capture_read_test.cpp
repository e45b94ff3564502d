// Layouts that are understood, options, conditioning, and everything that is refused.
#include "core/capture/read.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <string>
#include <vector>

#include "core/error.h"
#include "tests/core/capture_signal.h"

namespace lampload::capture_read_test {
namespace {

using namespace test;

class Reading : public InFolder {};

TEST_F(Reading, UnderstandsLayouts) {
  const auto plain = [](std::size_t k) { return joined(k, ",", '.'); };
  const std::vector<std::pair<std::string, std::string>> layouts{
      {"units in brackets", "Time (s),Voltage (V),Current (A)\n" + rows(plain)},
      {"units after a slash", "t/s,U/V,I/A\n" + rows(plain)},
      {"names in any case, order by name", "CURRENT [mA],TIME [ms],VOLTAGE [kV]\n" + rows([](std::size_t k) {
                                             return number(amperes(k) * 1e3, '.') + "," +
                                                    number(static_cast<double>(k) * 0.2, '.') + "," +
                                                    number(volts(k) / 1e3, '.', 7) + "\n";
                                           })},
      {"German, decimal comma", "Zeit;Spannung;Strom\n" + rows([](std::size_t k) { return joined(k, ";", ','); })},
      {"French",
       "Temps (ms);Tension (V);Courant (mA)\n" + rows([](std::size_t k) { return joined(k, ";", ',', 1e3, 1, 1e3); })},
      {"Spanish, tabs",
       "tiempo [s]\ttensi\u00f3n [V]\tcorriente [A]\n" + rows([](std::size_t k) { return joined(k, "\t", ','); })},
      {"Italian, blanks",
       "tempo tensione corrente\n" + rows([](std::size_t k) { return "  " + joined(k, "   ", '.'); })},
      {"microseconds with a micro sign",
       "Time [\u00b5s],Voltage,Current\n" + rows([](std::size_t k) { return joined(k, ",", '.', 1e6); })},
      {"row of units", "Time,Channel A,Channel B\n(ms),(mV),(mA)\n\n" +
                           rows([](std::size_t k) { return joined(k, ",", '.', 1e3, 1e3, 1e3); })},
      {"units only", "Second,Volt,Ampere\n" + rows(plain)},
      {"trailing separators, CRLF, byte-order mark", "\xEF\xBB\xBFTime,Voltage,Current,\r\n" + rows([](std::size_t k) {
                                                       return joined(k, ",", '.', 1, 1, 1, ",\r\n");
                                                     })},
      {"comments", "# taken at the boathouse\n# time,voltage,current\n" + rows([](std::size_t k) {
                     return (k == 50 ? std::string("# half way\n\n") : std::string()) + joined(k, ",", '.');
                   })},
      {"no header", rows(plain)},
      {"preamble above",
       "Record Length,200\nSample Interval,2e-4\nNote,clubroom pendant\nTime,Voltage,Current\n" + rows(plain)},
      {"preamble of keys for each column",
       "\"TraceName\",\"CH1\",\"CH2\",\nVUnit,V,A,\nHResolution,2e-4,2e-4,\nHUnit,s,s,\n" +
           rows([](std::size_t k) { return "," + number(volts(k), '.') + "," + number(amperes(k), '.') + "\n"; })},
      {"interval in the header line", "CH1,CH2,Start,Increment,\nVolt,Ampere,-0.02,2.0e-04\n" + rows([](std::size_t k) {
                                        return number(volts(k), '.') + "," + number(amperes(k), '.') + ",\n";
                                      })},
      {"sample rate with prefix, sample numbers",
       ";Sample rate,5 kHz\nSample,Voltage (V),Current (A)\n" + rows([](std::size_t k) {
         return std::to_string(k) + "," + number(volts(k), '.') + "," + number(amperes(k), '.') + "\n";
       })},
      {"decimal comma between commas",
       "time,voltage,current\n" + rows([](std::size_t k) { return joined(k, ",", ','); })},
      {"quoted decimal commas",
       "time,voltage,current\n" + rows([](std::size_t k) { return "\"" + joined(k, "\",\"", ',', 1, 1, 1, "\"\n"); })},
      {"clock with a decimal comma", "X-Data,U[Volts],I[Amps],Urms[Volts],\n" + rows([](std::size_t k) {
                                       const std::string clock =
                                           "0d - 00:00:00," + number(static_cast<double>(k) * 2e-4, '.', 9).substr(2);
                                       return clock + "," + number(volts(k), '.') + "," + number(amperes(k), '.') +
                                              ",,\n" + (k % 50 == 49 ? clock + ",,,230.1,\n" : std::string());
                                     })},
      {"explicit plus signs and exponents", "time,voltage,current\n" + rows([](std::size_t k) {
                                              char text[99];
                                              std::snprintf(text, sizeof text, "%+.6E,%+.6E,%+.6E\n",
                                                            static_cast<double>(k) * 2e-4, volts(k), amperes(k));
                                              return std::string(text);
                                            })},
  };
  for (const auto& [name, text] : layouts) {
    SCOPED_TRACE(name);
    try {
      expect_signal(read_capture(write(text)));
    } catch (const Error& error) {
      ADD_FAILURE() << error.what();
    }
  }
}

TEST_F(Reading, UnderstandsAPreambleBesideTheRowsAndAPairOfFiles) {
  const auto one = [](const char* unit, double (*value)(std::size_t)) {
    return rows([&](std::size_t k) {
      const std::string key = k == 0   ? "Sample Interval,2e-4,,"
                              : k == 1 ? std::string("Vertical Units,") + unit + ",,"
                              : k == 2 ? "Horizontal Units,s,,"
                                       : ",,,";
      return key + "  " + number(static_cast<double>(k) * 2e-4, '.') + ",  " + number(value(k), '.') + ",\n";
    });
  };
  const std::string voltage = write(one("V", volts), "voltage.csv");
  const std::string current = write(one("A", amperes), "current.csv");
  const Capture capture = read_capture(voltage + "+" + current);
  expect_signal(capture);
  EXPECT_EQ(capture.file, voltage + "+" + current);
}

TEST_F(Reading, TakesColumnsByNameOrNumber) {
  const std::string path = write("time,a,b,c\n" + rows([](std::size_t k) {
                                   return number(static_cast<double>(k) * 2e-4, '.') + "," + number(volts(k), '.') +
                                          ",7," + number(amperes(k), '.') + "\n";
                                 }));
  CaptureOptions options;
  options.voltage_column = " A ";
  options.current_column = "4";
  expect_signal(read_capture(path, options));
}

TEST_F(Reading, AppliesScalesOffsetsInversionAndInterval) {
  const std::string path = write(rows([](std::size_t k) {
    return number(volts(k) / 100 + 1, '.', 6) + "," + number(-amperes(k) * 10 - 5, '.') + "\n";
  }));
  CaptureOptions options;
  options.sample_interval_s = 2e-4;
  options.voltage_scale = 100;
  options.voltage_offset_v = 100;
  options.current_scale = 0.1;
  options.invert_current = true;
  options.current_offset_a = -0.5;  // subtracted from the file's scaled values: -0.5 A there
  expect_signal(read_capture(path, options));
}

TEST_F(Reading, TakesOutTheDelayOfTheCurrent) {
  for (const double delay : {4e-4, 5e-4, -3e-4}) {
    const std::string path = write("time,voltage,current\n" + rows([&](std::size_t k) {
                                     const double t = static_cast<double>(k) * 2e-4;
                                     return number(t, '.') + "," +
                                            number(325 * std::sin(100 * std::numbers::pi * t), '.') + "," +
                                            number(0.4 * std::sin(100 * std::numbers::pi * (t - delay)), '.', 6) + "\n";
                                   }));
    CaptureOptions options;
    options.current_delay_s = delay;
    const Capture capture = read_capture(path, options);
    for (std::size_t k = 0; k < capture.samples(); ++k) {
      ASSERT_NEAR(capture.current_a[k], capture.voltage_v[k] * 0.4 / 325, 0.0005) << delay << " at " << k;
    }
  }
}

TEST_F(Reading, TurnsAReversedClampAndSaysSo) {
  const Capture capture =
      read_capture(write("time,voltage,current\n" + rows([](std::size_t k) { return joined(k, ",", '.', 1, 1, -1); })));
  expect_signal(capture);
  EXPECT_TRUE(has(capture, "reversed_clamp"));
}

TEST_F(Reading, TurnsAReversedClampOnALeadingCurrentToo) {
  // 82 degrees ahead of the voltage: power factor 0.14
  for (const double clamp : {1.0, -1.0}) {
    std::string text = "time,voltage,current\n";
    for (std::size_t k = 0; k < 2000; ++k) {
      const double angle = 2.0 * std::numbers::pi * static_cast<double>(k) / 200.0;
      text += number(static_cast<double>(k) * 1e-4, '.') + "," + number(325.0 * std::sin(angle), '.') + "," +
              number(clamp * 0.1 * std::sin(angle + 82.0 * std::numbers::pi / 180.0), '.') + "\n";
    }
    const Capture capture = read_capture(write(text));
    EXPECT_EQ(has(capture, "reversed_clamp"), clamp < 0.0);
    EXPECT_NEAR(capture.current_a[0], 0.1 * std::sin(82.0 * std::numbers::pi / 180.0), 6e-5) << "four decimals";
  }
}

TEST_F(Reading, FindsDigitiserStepsAndClippedCrests) {
  std::string text = "time,voltage,current\n";
  for (std::size_t k = 0; k < 2000; ++k) {
    const double wave = std::sin(2 * std::numbers::pi * static_cast<double>(k) / 199.7);
    text += number(static_cast<double>(k) * 1e-4, '.') + "," +
            number(std::clamp(std::round(130 * wave) * 2.5, -250.0, 250.0), '.') + "," +
            number(std::round(20 * wave) * 0.02, '.') + "\n";
  }
  const Capture capture = read_capture(write(text));
  EXPECT_NEAR(capture.voltage_step_v, 2.5, 1e-6);
  EXPECT_NEAR(capture.current_step_a, 0.02, 1e-6);
  ASSERT_EQ(capture.clipped.size(), capture.samples());
  for (std::size_t k = 100; k < 1900; ++k) {
    EXPECT_EQ(capture.clipped[k], std::abs(capture.voltage_v[k]) > 249.0 ? 1 : 0) << k;
  }
}

TEST_F(Reading, MendsTheTimeAxisAndSaysSo) {
  const auto with_time = [&](const std::function<std::string(std::size_t)>& time) {
    return read_capture(write("time,voltage,current\n" + rows([&](std::size_t k) {
                                return time(k) + "," + number(volts(k), '.') + "," + number(amperes(k), '.') + "\n";
                              })));
  };
  const Capture rounded = with_time([](std::size_t k) { return number(static_cast<double>(k) * 2e-4, '.', 3); });
  EXPECT_TRUE(has(rounded, "time_rounded"));
  EXPECT_NEAR(rounded.sample_interval_s, 2e-4, 1e-6);
  const Capture to_twice = with_time([](std::size_t k) { return number(static_cast<double>(k) * 5e-4, '.', 3); });
  EXPECT_TRUE(has(to_twice, "time_rounded"));
  EXPECT_NEAR(to_twice.sample_interval_s, 5e-4, 2e-6);
  const Capture jittery =
      with_time([](std::size_t k) { return number(static_cast<double>(k) * 2e-4 + (k >= 100 ? 6e-4 : 0.0), '.'); });
  EXPECT_TRUE(has(jittery, "irregular_sampling"));
  EXPECT_TRUE(has(jittery, "time_gap"));
  EXPECT_EQ(jittery.samples(), kRows + 3);
}

TEST_F(Reading, ForgivesATruncatedLastLine) {
  const std::string text = "time,voltage,current\n" + rows([](std::size_t k) { return joined(k, ",", '.'); });
  const Capture capture = read_capture(write(text + "0.0400,12"));
  expect_signal(capture);
  EXPECT_TRUE(has(capture, "truncated_last_line"));
}

struct Refused {
  std::string name;
  std::string text;
  std::vector<std::string> parts;  // of the message
  CaptureOptions options = {};
};

std::string table(const std::string& header, const std::string& row_60, const std::string& separator = ",") {
  return header + "\n" + rows([&](std::size_t k) { return k == 60 ? row_60 + "\n" : joined(k, separator, '.'); });
}

CaptureOptions columns(const char* time, const char* voltage, const char* current) {
  CaptureOptions options;
  if (*time != '\0') options.time_column = time;
  if (*voltage != '\0') options.voltage_column = voltage;
  if (*current != '\0') options.current_column = current;
  return options;
}

TEST_F(Reading, RefusesWhatItCannotTrust) {
  const std::string good = "time,voltage,current";
  const auto column_pair = [](std::size_t k) {
    return number(static_cast<double>(k) * 2e-4, '.') + "," + number(volts(k), '.') + "\n";
  };
  const std::vector<Refused> cases{
      {"empty", "", {"empty"}},
      {"binary", std::string("\x03\x04\0\0\0\1\2", 7) + std::string(500, '\x02'), {"binary"}},
      {"control characters", "\x01\x02 1,2,3\n", {"binary"}},
      {"carriage returns only", "time,voltage,current\r0,1,2\r1,2,3\r", {"carriage return"}},
      {"header only", good + "\n", {"no rows of numbers"}},
      {"time beyond range", table(good, "OL,1,2"), {":62", "column time", "\"OL\" is no time"}},
      {"prose", "this is not a capture\nat all\n", {"no rows of numbers"}},
      {"blank lines only", "\n\n\n", {"no rows of numbers"}},
      {"one column",
       "voltage\n" + rows([](std::size_t k) { return number(volts(k), '.') + "\n"; }),
       {"current", "columns are 1"}},
      {"no current", "time,voltage\n" + rows(column_pair), {"no column of current", "--current-column", "\"voltage\""}},
      {"no voltage", "time,current\n" + rows(column_pair), {"no column of voltage", "--voltage-column"}},
      {"two voltages",
       table("time,CH1 (V),CH2 (V)", "0.012,1,2"),
       {"more than one column could be the voltage", "CH2 (V)"}},
      {"unknown names", table("time,red,blue", "0.012,1,2"), {"no column of voltage", "\"red\""}},
      {"too many columns without a header",
       rows([](std::size_t k) { return joined(k, ",", '.', 1, 1, 1, ",5,6\n"); }),
       {"no header", "more columns"}},
      {"too few samples", good + "\n0,1,2\n1,2,3\n2,3,4\n", {"holds 3 samples"}},
      {"a word among numbers", table(good, "0.012,abc,2"), {":62", "column voltage", "\"abc\""}},
      {"a word in the time", table(good, "soon,1,2"), {":62", "column time", "\"soon\""}},
      {"two decimal points", table(good, "0.012,1.2.3,2"), {":62", "\"1.2.3\""}},
      {"thousands separators", table("time;voltage;current", "0.012;1,234.5;2", ";"), {":62", "\"1,234.5\""}},
      {"a missing value", table(good, "0.012,1,"), {":62", "column current", "empty"}},
      {"a missing time", table(good, ",1,2"), {":62", "column time"}},
      {"absurd but finite", table(good, "0.012,1e12,2"), {"sample 61", "no lamp capture"}},
      {"time backwards", table(good, "0.001,1,2"), {":62", "backwards"}},
      {"a repeated row", table(good, "0.0118,1,2"), {":62", "repeats"}},
      {"constant time", good + "\n" + rows([](std::size_t) { return "1,2,3\n"; }), {"all time stamps are the same"}},
      {"a long gap",
       good + "\n" + rows([](std::size_t k) {
         return number(static_cast<double>(k) * 2e-4 + (k >= 60 ? 1.0 : 0.0), '.') + ",1,2\n";
       }),
       {":62", "jumps"}},
      {"no time and no interval", "voltage,current\n" + rows(column_pair), {"no time column", "--sample-interval"}},
      {"option names no column",
       table(good, "0.012,1,2"),
       {"no column \"torque\"", "\"voltage\""},
       columns("", "torque", "")},
      {"option number too large", table(good, "0.012,1,2"), {"no column number 9"}, columns("", "9", "")},
      {"option number zero", table(good, "0.012,1,2"), {"no column number 0"}, columns("", "", "0")},
      {"the same column twice", table(good, "0.012,1,2"), {"named twice"}, columns("", "2", "2")},
      {"one name, two columns",
       table("time,voltage,voltage", "0.012,1,2"),
       {"more than one column is named"},
       columns("", "voltage", "3")},
      {"a column of words",
       "time,lamp,voltage,current\n" +
           rows([](std::size_t k) { return number(static_cast<double>(k), '.') + ",pendant,1,2\n"; }),
       {"holds no numbers"},
       columns("", "", "lamp")},
      {"a damaged row at the very beginning",
       good + "\n0,1,2\n0.1,x,2\n" + rows([](std::size_t k) { return joined(k + 1000, ",", '.'); }),
       {":3"}},
      {"a pointer instead of data",
       "version https://storage.example/spec\noid 12:34\nsize 195708\n",
       {"a pointer to a file that is kept elsewhere"}},
  };
  EXPECT_GE(cases.size(), 30U);
  for (const Refused& bad : cases) {
    SCOPED_TRACE(bad.name);
    try {
      read_capture(write(bad.text), bad.options);
      ADD_FAILURE() << "was accepted";
    } catch (const Error& error) {
      EXPECT_EQ(error.code(), ErrorCode::input_refused);
      EXPECT_NE(std::string(error.what()).find("capture.csv"), std::string::npos) << error.what();
      EXPECT_FALSE(error.remedy().empty());
      for (const std::string& part : bad.parts)
        EXPECT_NE(std::string(error.what()).find(part), std::string::npos) << part << " in " << error.what();
    }
  }
}

TEST_F(Reading, RefusesWhatIsNoFile) {
  const auto message = [](const std::string& path) {
    try {
      read_capture(path);
    } catch (const Error& error) {
      return std::string(error.what());
    }
    return std::string("accepted");
  };
  EXPECT_NE(message(folder_.string()).find("folder"), std::string::npos);
  EXPECT_NE(message("/dev/zero").find("device"), std::string::npos);
  EXPECT_NE(message((folder_ / "absent.csv").string()).find("no such file"), std::string::npos);
  const std::string voltage =
      write("time,voltage\n" + rows([](std::size_t k) { return number(static_cast<double>(k) * 2e-4, '.') + ",1\n"; }),
            "u.csv");
  EXPECT_NE(message(voltage + "+absent.csv").find("no such file"), std::string::npos);
  const std::string slower =
      write("time,current\n" + rows([](std::size_t k) { return number(static_cast<double>(k) * 1e-3, '.') + ",1\n"; }),
            "i.csv");
  EXPECT_NE(message(voltage + "+" + slower).find("different sample intervals"), std::string::npos);
}

// A file with several voltages and currents may say which are meant; what the person says goes first.
TEST_F(Reading, TakesTheColumnsThatTheFileNames) {
  const std::string table = "time_s,supply_v,terminal_v,current_a,lamps_1_current_a\n" + rows([](std::size_t k) {
                              return number(static_cast<double>(k) * 2e-4, '.') + ",1," + number(volts(k), '.') + "," +
                                     number(amperes(k), '.') + ",2\n";
                            });
  expect_signal(read_capture(write("# voltage column: terminal_v\n# current column: current_a\n" + table)));
  CaptureOptions options;
  options.voltage_column = "supply_v";
  const Capture other =
      read_capture(write("# voltage column: terminal_v\n# current column: current_a\n" + table), options);
  EXPECT_EQ(other.voltage_v[7], 1.0);
  EXPECT_NEAR(other.current_a[7], amperes(7), 1e-4);
  // Without them, or where there is no such column, nothing is guessed.
  for (const char* above : {"", "# voltage column: lamp_v\n# current column: current_a\n"}) {
    try {
      (void)read_capture(write(above + table));
      ADD_FAILURE() << above;
    } catch (const Error& error) {
      EXPECT_NE(std::string(error.what()).find("more than one column could be the voltage"), std::string::npos);
    }
  }
}

TEST_F(Reading, RefusesSenselessOptions) {
  const std::string path = write(rows([](std::size_t k) { return joined(k, ",", '.'); }));
  const std::vector<std::function<void(CaptureOptions&)>> senseless{[](CaptureOptions& o) { o.voltage_scale = 0; },
                                                                    [](CaptureOptions& o) { o.current_scale = std::nan(""); },
                                                                    [](CaptureOptions& o) { o.sample_interval_s = 0; },
                                                                    [](CaptureOptions& o) { o.sample_interval_s = -1; },
                                                                    [](CaptureOptions& o) { o.current_delay_s = INFINITY; },
                                                                    [](CaptureOptions& o) { o.voltage_offset_v = NAN; }};
  for (const auto& set : senseless) {
    CaptureOptions options;
    set(options);
    EXPECT_THROW(read_capture(path, options), Error);
  }
}

}  // namespace
}  // namespace lampload::capture_read_test
