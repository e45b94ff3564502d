// COMTRADE records, written byte by byte as the standard says.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <limits>
#include <numbers>
#include <string>
#include <tuple>
#include <vector>

#include "core/capture/read.h"
#include "core/error.h"
#include "tests/core/binary_signal.h"

namespace lampload::capture_comtrade_test {
namespace {

using namespace binary_signal;
using test::has;

class ComtradeRecords : public BinaryForms {};

/// A configuration as IEEE C37.111-1999, 5 has it: two analog channels and one status channel.
std::string configuration(const std::string& kind, const std::string& rates = "1\n5000,400\n",
                          const std::string& year = ",1999", const std::string& behind = "1\n") {
  return "Boathouse,recorder" + year +
         "\n3,2A,1D\n"
         "1,Lamp voltage,A,,V,0.01,0.5,0,-32767,32767,1,1,P\n"
         "2,Lamp current,A,,mA,0.02,-1,0,-32767,32767,1,1,P\n"
         "1,Switch,A,,0\n50\n" +
         rates + "01/02/2026,10:00:00.000000\n01/02/2026,10:00:00.010000\n" + kind + "\n" + behind;
}
long stored_v(std::size_t k) { return std::lround((volts(k) - 0.5) / 0.01); }
long stored_i(std::size_t k) { return std::lround((1e3 * amperes(k) + 1.0) / 0.02); }

std::string text_data() {
  std::string data;
  for (std::size_t k = 0; k < samples; ++k) {
    data += std::to_string(k + 1) + "," + std::to_string(200 * k) + "," + std::to_string(stored_v(k)) + "," +
            std::to_string(stored_i(k)) + ",1\r\n";
  }
  return data + "\x1A";
}

template <class T>
std::string bytes_of(T value) {
  std::string bytes(sizeof(T), '\0');
  std::copy_n(reinterpret_cast<const char*>(&value), sizeof(T), bytes.data());
  return bytes;
}

template <class T>
std::string binary_data() {
  std::string data;
  for (std::size_t k = 0; k < samples; ++k) {
    data += bytes_of(static_cast<std::uint32_t>(k + 1)) + bytes_of(static_cast<std::uint32_t>(200 * k)) +
            bytes_of(static_cast<T>(stored_v(k))) + bytes_of(static_cast<T>(stored_i(k))) +
            bytes_of(static_cast<std::uint16_t>(1));
  }
  return data;
}

TEST_F(ComtradeRecords, ComtradeOfEveryKindOfData) {
  const std::vector<std::pair<std::string, std::string>> kinds{{"ASCII", text_data()},
                                                               {"BINARY", binary_data<std::int16_t>()},
                                                               {"BINARY32", binary_data<std::int32_t>()},
                                                               {"FLOAT32", binary_data<float>()}};
  for (const auto& [kind, data] : kinds) {
    SCOPED_TRACE(kind);
    write(configuration(kind), kind + ".cfg");
    write(data, kind + ".DAT");
    for (const char* part : {".cfg", ".DAT"}) {
      const Capture found = read_capture(place(kind + part));
      expect_signal(found, 0.01, 2e-5);
      EXPECT_EQ(found.form.name, "COMTRADE record");
    }
    // One file of both (C37.111-2013, 8).
    const std::string title = kind == "ASCII" ? "ASCII" : kind + ": " + std::to_string(data.size());
    write("--- file type: CFG ---\r\n" + configuration(kind, "1\n5000,400\n", ",2013", "1\n0,0\n0,3\n") +
              "--- file type: INF ---\r\n\r\n--- file type: HDR ---\r\n\r\n--- file type: DAT " + title + " ---\r\n" +
              data,
          kind + ".cff");
    expect_signal(read_capture(place(kind + ".cff")), 0.01, 2e-5);
  }
}

TEST_F(ComtradeRecords, ComtradeOf1991SaysNoYearAndNoFactor) {
  std::string old = configuration("ASCII", "1\n5000,400\n", "", "");
  // Ten values a channel, as of that year.
  for (auto at = old.find(",1,1,P"); at != std::string::npos; at = old.find(",1,1,P")) old.erase(at, 6);
  write(old, "old.cfg");
  write(text_data(), "old.dat");
  expect_signal(read_capture(place("old.cfg")), 0.01, 2e-5);
}

// No sampling rate: the samples' own stamps count, in microseconds, or in nanoseconds where the dates are as fine.
TEST_F(ComtradeRecords, ComtradeWithoutARateIsTimedByItsStamps) {
  write(configuration("ASCII", "0\n0,400\n"), "stamps.cfg");
  write(text_data(), "stamps.dat");
  expect_signal(read_capture(place("stamps.cfg")), 0.01, 2e-5);

  std::string fine = configuration("ASCII", "0\n0,400\n", ",2013", "1000\n");
  for (auto at = fine.find("00.0"); at != std::string::npos; at = fine.find("00.0", at + 4)) fine.insert(at + 4, "000");
  write(fine, "fine.cfg");
  write(text_data(), "fine.dat");
  expect_signal(read_capture(place("fine.cfg")), 0.01, 2e-5);
}

TEST_F(ComtradeRecords, ComtradeWithSeveralRatesIsResampled) {
  // Every second sample of the second half is left out.
  std::string data;
  std::size_t number = 0;
  for (std::size_t k = 0; k < samples; k += k < 200 ? 1 : 2) {
    data += std::to_string(++number) + "," + std::to_string(200 * k) + "," + std::to_string(stored_v(k)) + "," +
            std::to_string(stored_i(k)) + ",1\r\n";
  }
  write(configuration("ASCII", "2\n5000,200\n2500,300\n"), "two.cfg");
  write(data, "two.dat");
  const Capture found = read_capture(place("two.cfg"));
  EXPECT_TRUE(has(found, "irregular_sampling"));
  EXPECT_NEAR(found.sample_interval_s, 2e-4, 1e-9);
  for (const std::size_t k : {50U, 150U, 260U, 390U}) EXPECT_NEAR(found.voltage_v[k], volts(k), 2.5) << k;
}

TEST_F(ComtradeRecords, ComtradeThatCannotServeIsRefused) {
  struct Case {
    std::string name, configuration, data, part;
  };
  const std::string good = configuration("ASCII");
  const auto with = [&](const std::string& from, const std::string& to) {
    std::string text = good;
    text.replace(text.find(from), from.size(), to);
    return text;
  };
  std::string missing = text_data();
  missing.replace(missing.find("\n5,800,") + 7, std::to_string(stored_v(4)).size(), "99999");
  std::string word = text_data();
  word.replace(word.find("\n5,800,") + 7, 2, "ab");
  const std::vector<Case> cases{
      {"counts", with("3,2A,1D", "3,2A,1D,4"), text_data(), "no rows of numbers"},
      {"many", with("3,2A,1D", "99999,99998A,1D"), text_data(), ":2: the number of channels"},
      {"factor", with("0.01,0.5", "x,0.5"), text_data(), ":3: the channel's factor"},
      {"short channel", with("1,Lamp voltage,A,,V,0.01,0.5,0,-32767,32767,1,1,P", "1,Lamp voltage"), text_data(),
       ":3: an analog channel has ten values"},
      {"rates", with("\n1\n5000,400", "\nmany\n5000,400"), text_data(), ":7: the number of sampling rates"},
      {"rate", with("5000,400", "-1,400"), text_data(), ":8: the sampling rate must be above zero"},
      {"falling", configuration("ASCII", "2\n5000,300\n100,200\n"), text_data(),
       ":9: the rates' last samples must rise"},
      {"kind", with("ASCII", "PACKED"), text_data(), ":11: ASCII, BINARY, BINARY32 or FLOAT32"},
      {"cut", good.substr(0, good.find("50\n") + 3), text_data(), "the file ends where the number of sampling rates"},
      {"short row", good, text_data().insert(text_data().find("\n5,800,"), "\n5,800,1\r"),
       ".dat:5: the line has 3 values"},
      {"word", good, word, ".dat:5: a number was expected as value 3"},
      {"few", good, text_data().substr(0, 60), "fewer than 16"},
      {"no analog", "a,b,1999\n1,0A,1D\n1,Switch,A,,0\n50\n1\n5000,400\n1,2\n1,2\nASCII\n1\n", text_data(),
       "no analog channels"},
  };
  for (const Case& bad : cases) {
    write(bad.configuration, bad.name + ".cfg");
    write(bad.data, bad.name + ".dat");
    const std::string message = refusal(place(bad.name + ".cfg"));
    EXPECT_NE(message.find(bad.part), std::string::npos) << bad.name << ": " << message;
  }
  write(good, "missing.cfg");
  write(missing, "missing.dat");
  const Capture lost = read_capture(place("missing.cfg"));
  ASSERT_EQ(lost.clipped.size(), lost.samples());
  EXPECT_EQ(std::count(lost.clipped.begin(), lost.clipped.end(), std::uint8_t{0}), 399);
  EXPECT_EQ(lost.clipped[4], 1);
  write(good, "alone.cfg");
  EXPECT_NE(refusal(place("alone.cfg")).find("is a COMTRADE record, but its data file"), std::string::npos);
  write("--- file type: CFG ---\n" + good, "half.cff");
  EXPECT_NE(refusal(place("half.cff")).find("no part with its data"), std::string::npos);
  write("--- file type: INF ---\n\n--- file type: DAT ASCII ---\n" + text_data(), "other.cff");
  EXPECT_NE(refusal(place("other.cff")).find("no part with its configuration"), std::string::npos);
}

TEST_F(ComtradeRecords, ComtradeSaysWhatAPersonShouldKnow) {
  std::string transformed = configuration("BINARY", "1\n5000,500\n");
  transformed.replace(transformed.find("1,1,P"), 5, "230,100,S");
  transformed.replace(transformed.find("-1,0,"), 5, "-1,12.5,");
  write(transformed, "notes.cfg");
  write(binary_data<std::int16_t>(), "notes.dat");
  const Capture found = read_capture(place("notes.cfg"));
  EXPECT_EQ(found.samples(), samples - 1);  // the skew takes a part of one at the end
  EXPECT_TRUE(has(found, "truncated_file"));
  EXPECT_TRUE(has(found, "secondary_values"));
  EXPECT_TRUE(has(found, "channel_skew"));
}

// Each form may be packed, and its two files apart from each other.
TEST_F(ComtradeRecords, PackedAndUnderOtherNames) {
  write(configuration("BINARY"), "two.cfg");
  write(binary_data<std::int16_t>(), "two.dat");
  write(configuration("ASCII"), "text.cfg");
  write(text_data(), "text.dat");
  const auto single = [](const std::string& kind, const std::string& title, const std::string& data) {
    return "--- file type: CFG ---\r\n" + configuration(kind, "1\n5000,400\n", ",2013", "1\n0,0\n0,3\n") +
           "--- file type: INF ---\r\n\r\n--- file type: DAT " + title + " ---\r\n" + data;
  };
  const std::string binary = binary_data<std::int16_t>();
  write(single("BINARY", "BINARY: " + std::to_string(binary.size()), binary), "one.cff");
  write("\xEF\xBB\xBF" + single("ASCII", "ASCII", text_data()), "ascii.cff");
  const std::string script =
      "cd '" + folder_.string() +
      "' && mkdir gz gz_data zst zst_data both && for r in two text; do "
      "gzip -c $r.cfg > gz/$r.cfg.gz && gzip -c $r.dat > gz/$r.DAT.gz && "
      "cp $r.cfg gz_data/ && gzip -c $r.dat > gz_data/$r.dat.gz && "
      "zstd -q $r.cfg -o zst/$r.cfg.zst && zstd -q $r.dat -o zst/$r.dat.zst && "
      "cp $r.cfg zst_data/ && zstd -q $r.dat -o zst_data/$r.dat.zst && "
      "cp $r.cfg $r.dat both/ && echo other | gzip > both/$r.dat.gz; done && "
      "for s in one ascii; do gzip -k $s.cff && zstd -q $s.cff -o $s.cff.zst && cp $s.cff $s.bin && "
      "cp $s.cff.gz $s; done";
  ASSERT_EQ(std::system(script.c_str()), 0);
  for (const char* name : {"gz/two.cfg.gz",    "gz/two.DAT.gz",
                           "gz/text.cfg.gz",   "gz/text.DAT.gz",
                           "gz_data/two.cfg",  "gz_data/two.dat.gz",
                           "gz_data/text.cfg", "zst/two.cfg.zst",
                           "zst/two.dat.zst",  "zst/text.cfg.zst",
                           "zst_data/two.cfg", "zst_data/text.dat.zst",
                           "both/two.cfg",     "both/text.cfg",
                           "one.cff.gz",       "one.cff.zst",
                           "one.bin",          "one",
                           "ascii.cff.gz",     "ascii.cff.zst",
                           "ascii.bin",        "ascii"}) {
    SCOPED_TRACE(name);
    const Capture found = read_capture(place(name));
    EXPECT_EQ(found.form.name, "COMTRADE record");
    expect_signal(found, 0.01, 2e-5);
  }
}

double volts_at(double time_s) { return 325.0 * std::sin(2.0 * std::numbers::pi * 50.0 * time_s); }
double amperes_at(double time_s) { return 0.4 * std::sin(2.0 * std::numbers::pi * 50.0 * time_s - 0.3); }

/// Its channels sampled so much after the stamp of their sample, and said so: the channel skew is what the sample time
/// of a channel lies behind the start of the sample period, such as 0, 125, 250 us for channels that share one
/// converter (C37.111-1999, 5.3.2).
std::string skewed(const std::string& voltage_us, const std::string& current_us) {
  std::string text = configuration("ASCII");
  text.replace(text.find("0.01,0.5,0,"), 11, "0.01,0.5," + voltage_us + ",");
  text.replace(text.find("0.02,-1,0,"), 10, "0.02,-1," + current_us + ",");
  return text;
}
std::string skewed_data(double voltage_s, double current_s) {
  std::string data;
  for (std::size_t k = 0; k < samples; ++k) {
    const double time_s = 2e-4 * static_cast<double>(k);
    data += std::to_string(k + 1) + "," + std::to_string(200 * k) + "," +
            std::to_string(std::lround((volts_at(time_s + voltage_s) - 0.5) / 0.01)) + "," +
            std::to_string(std::lround((1e3 * amperes_at(time_s + current_s) + 1.0) / 0.02)) + ",1\r\n";
  }
  return data;
}

TEST_F(ComtradeRecords, SkewOfTheChannelsIsTakenOut) {
  struct Case {
    std::string name;
    double voltage_us, current_us;
    std::string said;
  };
  for (const Case& c : {Case{"whole", 0.0, 400.0, "the current is sampled 400 us after the voltage"},
                        Case{"part", 0.0, 50.0, "the current is sampled 50 us after the voltage"},
                        Case{"more", 0.0, 300.0, "the current is sampled 300 us after the voltage"},
                        Case{"voltage", 350.0, 100.0, "the voltage is sampled 250 us after the current"}}) {
    SCOPED_TRACE(c.name);
    const auto text = [](double us) { return std::to_string(std::lround(us)); };
    write(skewed(text(c.voltage_us), text(c.current_us)), c.name + ".cfg");
    write(skewed_data(1e-6 * c.voltage_us, 1e-6 * c.current_us), c.name + ".dat");
    const Capture found = read_capture(place(c.name + ".cfg"));
    EXPECT_NE(message_of(found, "channel_skew").find(c.said + "; that was taken out"), std::string::npos)
        << message_of(found, "channel_skew");
    ASSERT_GT(found.samples(), 390U);
    // Which instant a sample stands for shows in the voltage: both channels have to agree on it.
    std::size_t best = 0;
    double least = 1e9;
    const auto difference = [&](std::size_t shift_us) {
      double sum = 0.0;
      for (std::size_t k = 5; k < 100; ++k) {
        sum += std::abs(found.voltage_v[k] -
                        volts_at(2e-4 * static_cast<double>(k) + 1e-6 * static_cast<double>(shift_us)));
      }
      return sum;
    };
    for (std::size_t shift_us = 0; shift_us < 1000; shift_us += 10) {
      if (const double sum = difference(shift_us); sum < least) {
        least = sum;
        best = shift_us;
      }
    }
    for (std::size_t k = 5; k + 5 < found.samples(); ++k) {
      const double time_s = 2e-4 * static_cast<double>(k) + 1e-6 * static_cast<double>(best);
      // Between samples by a straight line: at most (w dt)^2 / 8 of the peak.
      ASSERT_NEAR(found.voltage_v[k], volts_at(time_s), 0.17) << k;
      ASSERT_NEAR(found.current_a[k], amperes_at(time_s), 1e-4) << k;
    }
  }

  // Both alike are no skew; an option counts on top; of two records each channel has its own.
  write(skewed("250", "250"), "alike.cfg");
  write(skewed_data(2.5e-4, 2.5e-4), "alike.dat");
  EXPECT_FALSE(has(read_capture(place("alike.cfg")), "channel_skew"));
  CaptureOptions back;
  back.current_delay_s = 4e-4;
  const Capture untouched = read_capture(place("whole.cfg"), back);
  EXPECT_NEAR(untouched.current_a[10], amperes_at(2.4e-3), 1e-4);
  EXPECT_NEAR(untouched.voltage_v[10], volts_at(2e-3), 0.1);
  const Capture pair = read_capture(place("whole.cfg") + "+" + place("part.cfg"));
  EXPECT_NE(message_of(pair, "channel_skew").find("the current is sampled 50 us after the sample's time"),
            std::string::npos)
      << message_of(pair, "channel_skew");
}

TEST_F(ComtradeRecords, RatioOfATransformerIsSaid) {
  std::string transformed = configuration("ASCII");
  transformed.replace(transformed.find("1,1,P"), 5, "230,100,S");
  transformed.replace(transformed.find("1,1,P"), 5, "50,5,s");
  write(transformed, "behind.cfg");
  write(text_data(), "behind.dat");
  const Capture found = read_capture(place("behind.cfg"));
  std::string said;
  for (const QualityNote& note : found.notes) {
    if (note.code == "secondary_values") said += note.message + "\n";
  }
  EXPECT_NE(said.find("\"Lamp voltage\" holds the values behind a transformer of ratio 2.3, as the file says. Give "
                      "--voltage-scale 2.3 "),
            std::string::npos)
      << said;
  EXPECT_NE(said.find("\"Lamp current\" holds the values behind a transformer of ratio 10, as the file says. Give "
                      "--current-scale 10 "),
            std::string::npos)
      << said;
  CaptureOptions given;
  given.voltage_scale = 2.3;
  given.current_scale = 10.0;
  const Capture scaled = read_capture(place("behind.cfg"), given);
  EXPECT_FALSE(has(scaled, "secondary_values"));
  EXPECT_NEAR(scaled.voltage_v[25], 2.3 * 325.0, 0.05);
}

TEST_F(ComtradeRecords, TextThatEndsEarlyIsReadAndSaid) {
  const std::string data = text_data();
  write(configuration("ASCII"), "half.cfg");
  write(data.substr(0, data.find("\n201,") + 1), "half.dat");
  const Capture found = read_capture(place("half.cfg"));
  EXPECT_EQ(found.samples(), 200U);
  EXPECT_NE(message_of(found, "truncated_file").find("promises 400 samples, the data hold 200; what is there was read"),
            std::string::npos);
}

TEST_F(ComtradeRecords, MarksInThePlaceOfValues) {
  const std::string floats = binary_data<float>();
  const std::size_t row = floats.size() / samples;
  for (const auto& [name, up, down] :
       {std::tuple{"largest", 3.4e38F, -3.4e38F}, std::tuple{"round", 1.1e30F, -1.1e30F},
        std::tuple{"endless", std::numeric_limits<float>::infinity(), -std::numeric_limits<float>::infinity()}}) {
    SCOPED_TRACE(name);
    std::string data = floats;
    data.replace(24 * row + 8, 4, bytes_of(up));
    data.replace(75 * row + 8, 4, bytes_of(down));
    write(configuration("FLOAT32"), std::string(name) + ".cfg");
    write(data, std::string(name) + ".dat");
    const Capture found = read_capture(place(std::string(name) + ".cfg"));
    ASSERT_EQ(found.clipped.size(), samples);
    EXPECT_EQ(std::count(found.clipped.begin(), found.clipped.end(), std::uint8_t{0}), 398);
    EXPECT_NEAR(found.voltage_v[24], 325.0, 0.01);
    EXPECT_NEAR(found.voltage_v[75], -325.0, 0.01);
  }
  std::string text = text_data();
  const std::string old = std::to_string(stored_v(24));
  text.replace(text.find("\n25,4800,") + 9, old.size(), "3.4e38");
  write(configuration("ASCII"), "text.cfg");
  write(text, "text.dat");
  EXPECT_EQ(read_capture(place("text.cfg")).clipped.at(24), 1);
}

TEST_F(ComtradeRecords, TimeWhereNoRateIsSaid) {
  // No rate, or one of zero: the stamps count.
  write(configuration("ASCII", "1\n0,400\n"), "zero.cfg");
  write(text_data(), "zero.dat");
  expect_signal(read_capture(place("zero.cfg")), 0.01, 2e-5);
  // No stamps either: as the refusal says.
  std::string bare;
  for (std::size_t k = 0; k < samples; ++k) {
    bare += std::to_string(k + 1) + ",," + std::to_string(stored_v(k)) + "," + std::to_string(stored_i(k)) + ",1\n";
  }
  for (const char* rates : {"0\n0,400\n", "1\n0,400\n"}) {
    write(configuration("ASCII", rates), "bare.cfg");
    write(bare, "bare.dat");
    EXPECT_NE(refusal(place("bare.cfg")).find("sample 1 has no time stamp, and there is no sampling rate"),
              std::string::npos);
    CaptureOptions interval;
    interval.sample_interval_s = 2e-4;
    expect_signal(read_capture(place("bare.cfg"), interval), 0.01, 2e-5);
  }
  write(configuration("ASCII", "2\n0,200\n5000,400\n"), "mixed.cfg");
  write(text_data(), "mixed.dat");
  EXPECT_NE(refusal(place("mixed.cfg")).find(":8: the sampling rate must be above zero"), std::string::npos);
}

}  // namespace
}  // namespace lampload::capture_comtrade_test
