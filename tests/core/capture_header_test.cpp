// What stands above a table: names and units however they are spelled and wherever they stand, the clock of a preamble,
// and what is said where it is not understood.
#include <gtest/gtest.h>

#include <cmath>

#include <string>
#include <utility>
#include <vector>

#include "core/capture/column_names.h"
#include "core/capture/quantity.h"
#include "tests/core/capture_signal.h"

namespace lampload::capture_header_test {
namespace {

using namespace test;

class Headers : public InFolder {
 protected:
  static std::string message(const Capture& capture, const std::string& code) {
    for (const QualityNote& note : capture.notes) {
      if (note.code == code) return note.message;
    }
    return {};
  }
};

// Rows with the current in milliamperes, time in seconds times a factor.
std::string in_ma(char separator = ',', double time = 1.0) {
  return rows([=](std::size_t k) {
    return number(static_cast<double>(k) * 2e-4 * time, '.', 6) + separator + number(volts(k), '.') + separator +
           number(amperes(k) * 1e3, '.') + "\n";
  });
}

TEST_F(Headers, AreFoundBehindWhatStandsBetween) {
  const std::string plain = "Time (s),Voltage (V),Current (mA)\n";
  for (const std::string& text :
       {"Boathouse,,\n" + plain + ",,\n", plain + "[Data]\n", plain + "Data:\n", plain + "Segment 1\n",
        plain + "# -----\n", plain + "=====\n", plain + "----,----,----\n", plain + "\n\n", plain + "t,u,i\n",
        plain + "Range,50,2000\nOffset,0,0\n", std::string("Time,Voltage,Current\ns,V,mA\n,DC,DC\n"),
        std::string("Time (s)\tVoltage (V)\tCurrent (mA)\n"), std::string("Time (s);Voltage (V);Current (mA)\n"),
        std::string("\"Time\n(s)\",\"Voltage\n(V)\",\"Current\n(mA)\"\n"),
        std::string("\"Time (s),Voltage (V),Current (mA)\"\n"), std::string("Voltage (V),Current (mA)\n"),
        std::string(",Voltage (V),Current (mA)\n"),
        std::string("# Column 1: time [s]\n# Column 2: voltage [V]\n# Column 3: current [mA]\n")}) {
    SCOPED_TRACE(text);
    const Capture found = read_capture(write(text + in_ma()));
    expect_signal(found);
    EXPECT_FALSE(has(found, "header_not_used"));
  }
  // Names that change the order, and an index without a name.
  expect_signal(read_capture(write("Current (A),Voltage (V)\n" + rows([](std::size_t k) {
                                     return number(static_cast<double>(k) * 2e-4, '.') + "," + number(amperes(k), '.') +
                                            "," + number(volts(k), '.') + "\n";
                                   }))));
  expect_signal(read_capture(write(",time,voltage,current\n" +
                                   rows([](std::size_t k) { return std::to_string(k) + "," + joined(k, ",", '.'); }))));
  const std::string said =
      refusal(write(",voltage,current\n" + rows([](std::size_t k) {
                      return std::to_string(k) + "," + number(volts(k), '.') + "," + number(amperes(k), '.') + "\n";
                    })));
  EXPECT_NE(said.find("there is no time column and no sample interval"), std::string::npos) << said;
}

TEST_F(Headers, ThatAreNotUsedAreQuoted) {
  for (const char* line : {"Time (ms),Voltage (V),\n", "# the clamp gives mA\n", "Time (ms),Lamp,\n"}) {
    const Capture found = read_capture(write(line + rows([](std::size_t k) { return joined(k, ",", '.'); })));
    const std::string quoted(line, std::string(line).size() - 1);
    EXPECT_NE(message(found, "header_not_used").find("\"" + quoted + "\""), std::string::npos) << line;
  }
  // Of no consequence: values with their units, units that the columns have.
  for (const char* line : {"Trigger level: 500 mV at 20 ms\n", "Current in mA\n"}) {
    const Capture found = read_capture(write(line + std::string("t (s),u (V),i (mA)\n") + in_ma()));
    EXPECT_FALSE(has(found, "header_not_used")) << line;
  }
}

// What is called a time and chosen as the voltage is no time column as well.
TEST_F(Headers, AColumnServesOnce) {
  CaptureOptions options;
  options.voltage_column = "2";
  const std::string path =
      write("time (s),time of day (V),current (A)\n" + rows([](std::size_t k) { return joined(k, ",", '.'); }));
  expect_signal(read_capture(path, options));
}

TEST_F(Headers, SpellUnitsInManyWays) {
  for (const char* name : {"Current (milliamperes)",
                           "Strom [Milliampere]",
                           "Courant (milliamp\u00e8res)",
                           "Corriente (miliamperios)",
                           "Current (in mA)",
                           "\"Current (mA, AC)\"",
                           "Current (mA DC)",
                           "Current [mA rms]",
                           "Current (mAdc)",
                           "Current.mA",
                           "Current:mA",
                           "Current {mA}",
                           "Current <mA>",
                           "Current (m A)",
                           "Current \uff08mA\uff09",
                           "Current (mA\u00a0)",
                           "Current\u00a0mA",
                           "Current(mA",
                           "i_mA (clamp 1)",
                           "currentMa",
                           "CurrentmA",
                           "StrommA"}) {
    SCOPED_TRACE(name);
    const Capture found = read_capture(write("Time (s),Voltage (V)," + std::string(name) + "\n" + in_ma()));
    expect_signal(found);
    EXPECT_FALSE(has(found, "unit_not_understood"));
  }
  expect_signal(read_capture(write("timeMs,voltageV,currentMa\n" + in_ma(',', 1e3))));
  const std::vector<std::pair<const char*, double>> times{
      {"milliseconds", 1e3}, {"Millisekunden", 1e3}, {"microsegundos", 1e6},
      {"min", 1.0 / 60.0},   {"h", 1.0 / 3600.0},    {"\u00c2\u00b5s", 1e6},
      {"ps", 1e12}};
  for (const auto& [unit, per_second] : times) {
    SCOPED_TRACE(unit);
    const double factor = per_second;
    expect_signal(
        read_capture(write("Time (" + std::string(unit) + "),Voltage (V),Current (A)\n" + rows([&](std::size_t k) {
                             return number(static_cast<double>(k) * 2e-4 * factor, '.', 12) + "," +
                                    number(volts(k), '.') + "," + number(amperes(k), '.') + "\n";
                           }))));
  }
}

TEST_F(Headers, QuoteAUnitThatIsNotUnderstood) {
  const std::vector<std::pair<std::string, std::string>> cases{{"Current (10 mA)", "10 mA"},
                                                               {"Current (0.1 A)", "0.1 A"},
                                                               {"Current (A/10)", "A/10"},
                                                               {"Current (10 A/V)", "10 A/V"},
                                                               {"Current (A x 10^-3)", "A x 10^-3"},
                                                               {"Current (A/div)", "A/div"},
                                                               {"Current (LSB)", "LSB"},
                                                               {"Current [%]", "%"},
                                                               {"Current (?A)", "?A"},
                                                               {"Current (\ufffdA)", "\ufffdA"}};
  CaptureOptions scaled;
  scaled.current_scale = 1.0000001;
  for (const auto& [name, unit] : cases) {
    SCOPED_TRACE(name);
    const std::string path =
        write("Time (s),Voltage (V)," + name + "\n" + rows([](std::size_t k) { return joined(k, ",", '.'); }));
    const std::string said = message(read_capture(path), "unit_not_understood");
    EXPECT_NE(said.find("is not understood: \"" + unit + "\""), std::string::npos) << said;
    EXPECT_NE(said.find("--current-scale"), std::string::npos) << said;
    EXPECT_FALSE(has(read_capture(path, scaled), "unit_not_understood"));
  }
  for (const char* head : {"Time (ticks),Voltage (V),Current (A)\n", "Time,Voltage,Current\nticks,V,A\n"}) {
    const Capture found = read_capture(write(head + rows([](std::size_t k) { return joined(k, ",", '.'); })));
    EXPECT_NE(message(found, "unit_not_understood").find("--sample-interval"), std::string::npos) << head;
  }
  for (const char* name :
       {"i(t)", "Current (lamp)", "Current (CH2)", "Current (A) [10x probe]", "Current (A) (probe B)"})
    EXPECT_EQ(unread_unit(name), "") << name;
}

TEST_F(Headers, TakeUnitsFromThePreamble) {
  for (const char* head :
       {"Vertical Units,V,mA\nTIME,Voltage,Current\n", "Unit,V,mA\nTIME,CH1,CH2\n", "Units,V,mA\n,,\nt,u,i\n",
        "# units: s, V, mA\ntime,voltage,current\n", "# current in mA\ntime,voltage,current\n",
        "# u in V, i in mA\nt,u,i\n", "Vertical Units,V,mA\n"}) {
    SCOPED_TRACE(head);
    expect_signal(read_capture(write(head + in_ma())));
  }
  for (const char* head : {"Horizontal Units,ms\nTime,Voltage,Current\n", "Time unit,ms\nTime,Voltage,Current\n",
                           "# time in ms\nTime,Voltage,Current\n"}) {
    SCOPED_TRACE(head);
    expect_signal(read_capture(write(head + rows([](std::size_t k) { return joined(k, ",", '.', 1e3); }))));
  }
  const auto one = [](const std::string& head, double (*value)(std::size_t), double factor) {
    return head + rows([&](std::size_t k) {
             return number(static_cast<double>(k) * 0.2, '.') + "," + number(value(k) * factor, '.') + "\n";
           });
  };
  const std::string units = "Horizontal Units,ms\nVertical Units,";
  for (const char* names : {"X,Y\n", "Time,Value\n"}) {
    const std::string voltage = write(one(units + "V\n" + names, volts, 1.0), "voltage.csv");
    const std::string current = write(one(units + "mA\n" + names, amperes, 1e3), "current.csv");
    expect_signal(read_capture(voltage + "+" + current));
  }
}

TEST_F(Headers, TakeTheClockWithItsUnit) {
  const auto untimed = [](const std::string& preamble) {
    const char separator = preamble.find(';') == std::string::npos ? ',' : ';';
    return preamble + "Voltage (V)" + separator + "Current (A)\n" + rows([=](std::size_t k) {
             const char decimal = separator == ';' ? ',' : '.';
             return number(volts(k), decimal) + separator + number(amperes(k), decimal) + "\n";
           });
  };
  for (const char* preamble :
       {"Sample Interval,200,us\n", "Sample Interval (us),200\n", "Sample Rate,5,kHz\n", "Abtastrate;5;kHz\n",
        "X Increment,200,us\n", "Horizontal Units,ms\nSample Interval,0.2\n", "X unit,us\nX increment,200\n",
        "Abtastintervall;0,0002\n", "[X axis]\nUnit,s\nIncrement,2e-4\n[Y axis]\nUnit,V\nIncrement,0.0125\n",
        "FS,300,5\nSample rate,5000\n", "Sample rate,5000\nRate,9600,baud\n"}) {
    SCOPED_TRACE(preamble);
    expect_signal(read_capture(write(untimed(preamble))));
  }
  for (const char* preamble : {"Sample rate: 200us\n", "Sample interval: 5 kHz\n", "Abtastrate;20.000 Hz\n",
                               "Sample interval,2e-4\nSample interval,3e-4\n"}) {
    const std::string said = refusal(write(untimed(preamble)));
    EXPECT_NE(said.find("no sample interval; \""), std::string::npos) << preamble << said;
  }
}

TEST_F(Headers, TellConverterCodes) {
  const auto codes = [](const std::string& head) {
    return head + rows([](std::size_t k) {
             return number(static_cast<double>(k) * 2e-4, '.') + "," + std::to_string(std::lround(volts(k) / 2.5)) +
                    "," + std::to_string(std::lround(amperes(k) / 0.005)) + "\n";
           });
  };
  for (const char* head : {"time_s,voltage_raw,current_raw\n", "time_s,voltage_adc,current_adc\n",
                           "Scale factor,,2.5,0.005\nTime (s),Voltage (V),Current (A)\n",
                           "# voltage = code * 2.5 V\ntime_s,voltage,current\n", "YMULT,,2.5,0.005\nt,u,i\n"}) {
    const Capture found = read_capture(write(codes(head)));
    EXPECT_NE(message(found, "scale_unknown").find("--voltage-scale"), std::string::npos) << head;
  }
  EXPECT_FALSE(has(read_capture(write(codes("time_s,voltage,current\n"))), "scale_unknown"));
}

}  // namespace
}  // namespace lampload::capture_header_test
