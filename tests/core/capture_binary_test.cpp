// WAV files, NumPy arrays and COMTRADE records, written by Python's own modules or byte by byte as the standards say.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <numbers>
#include <string>
#include <vector>

#include "core/capture/read.h"
#include "core/error.h"
#include "tests/core/capture_signal.h"

namespace lampload::capture_binary_test {
namespace {

using test::has;

constexpr std::size_t samples = 400;
double volts(std::size_t k) { return 325.0 * std::sin(2.0 * std::numbers::pi * static_cast<double>(k) / 100.0); }
double amperes(std::size_t k) { return 0.4 * std::sin(2.0 * std::numbers::pi * static_cast<double>(k) / 100.0 - 0.3); }

class BinaryForms : public test::InFolder {
 protected:
  /// `script` finds v and i, the signals as lists, and the folder as working directory.
  void python(const std::string& script) const {
    write(
        "import math, struct, wave\n"
        "v = [325 * math.sin(2 * math.pi * k / 100) for k in range(400)]\n"
        "i = [0.4 * math.sin(2 * math.pi * k / 100 - 0.3) for k in range(400)]\n" +
            script,
        "make.py");
    ASSERT_EQ(std::system(("cd '" + folder_.string() + "' && /usr/bin/python3 make.py").c_str()), 0) << script;
  }
};

void expect_signal(const Capture& capture, double volt_step, double ampere_step) {
  ASSERT_EQ(capture.samples(), samples);
  EXPECT_NEAR(capture.sample_interval_s, 2e-4, 1e-12);
  for (std::size_t k = 0; k < samples; ++k) {
    ASSERT_NEAR(capture.voltage_v[k], volts(k), 0.51 * volt_step) << k;
    ASSERT_NEAR(capture.current_a[k], amperes(k), 0.51 * ampere_step) << k;
  }
}

// Scales: what full scale is, 500 V and 1 A.
CaptureOptions full_scale() {
  CaptureOptions options;
  options.voltage_scale = 500.0;
  return options;
}

TEST_F(BinaryForms, WavOfEveryWidthOfPcm) {
  python(
      "for width in (1, 2, 3, 4):\n"
      "  top = 2 ** (8 * width - 1)\n"
      "  with wave.open(f'pcm{8 * width}.wav', 'wb') as file:\n"
      "    file.setnchannels(2); file.setsampwidth(width); file.setframerate(5000)\n"
      "    for a, b in zip(v, i):\n"
      "      for x in (a / 500, b):\n"
      "        n = round(x * top)\n"
      "        file.writeframesraw(bytes([n + 128]) if width == 1 else n.to_bytes(width, 'little', signed=True))\n");
  for (const int bits : {8, 16, 24, 32}) {
    SCOPED_TRACE(bits);
    const Capture found = read_capture(place("pcm" + std::to_string(bits) + ".wav"), full_scale());
    const double step = std::pow(2.0, 1 - bits);
    expect_signal(found, 500.0 * step, step);
    EXPECT_EQ(found.form.name, "WAV file");
    EXPECT_TRUE(has(found, "scale_unknown")) << "of the current";
  }
}

TEST_F(BinaryForms, WavOfFloatsWithExtensibleAndWideHeaders) {
  python(
      "def chunk(name, body): return name + struct.pack('<I', len(body)) + body + b'\\0' * (len(body) % 2)\n"
      "def data(code): return b''.join(struct.pack('<' + code, x) for pair in zip([x / 500 for x in v], i) for x in "
      "pair)\n"
      "def fmt(bits): return struct.pack('<HHIIHH', 3, 2, 5000, 5000 * bits // 4, bits // 4, bits)\n"
      "def riff(*chunks): return b'RIFF' + struct.pack('<I', 4 + sum(map(len, chunks))) + b'WAVE' + b''.join(chunks)\n"
      "guid = struct.pack('<H', 3) + bytes.fromhex('000000001000800000aa00389b71')\n"
      "extensible = struct.pack('<HHIIHHHHI', 0xFFFE, 2, 5000, 40000, 8, 32, 22, 32, 3) + guid\n"
      "open('float32.wav', 'wb').write(riff(chunk(b'fmt ', fmt(32)), chunk(b'LIST', b'odd'), chunk(b'data', "
      "data('f'))))\n"
      "open('float64.wav', 'wb').write(riff(chunk(b'fmt ', fmt(64)), chunk(b'data', data('d'))))\n"
      "open('extensible.wav', 'wb').write(riff(chunk(b'fmt ', extensible), chunk(b'data', data('f'))))\n"
      "open('streamed.wav', 'wb').write(riff(chunk(b'fmt ', fmt(32)), b'data' + b'\\xff' * 4 + data('f')))\n"
      "ds64 = struct.pack('<QQQI', 0, len(data('f')), 400, 0)\n"
      "open('wide.wav', 'wb').write(b'RF64' + b'\\xff' * 4 + b'WAVE' + chunk(b'ds64', ds64) + chunk(b'fmt ', fmt(32)) "
      "+\n"
      "                             b'data' + b'\\xff' * 4 + data('f') + chunk(b'LIST', b'behind the samples'))\n");
  for (const char* name : {"float32.wav", "float64.wav", "extensible.wav", "streamed.wav", "wide.wav"}) {
    SCOPED_TRACE(name);
    expect_signal(read_capture(place(name), full_scale()), 1e-4, 1e-6);
  }
}

TEST_F(BinaryForms, WavThatCannotServeIsRefused) {
  python(
      "def chunk(name, body): return name + struct.pack('<I', len(body)) + body\n"
      "def riff(kind, *chunks): return b'RIFF' + struct.pack('<I', 4) + kind + b''.join(chunks)\n"
      "def fmt(tag, channels, rate, block, bits): return chunk(b'fmt ', struct.pack('<HHIIHH', tag, channels, rate, 0, "
      "block, bits))\n"
      "body = chunk(b'data', bytes(1600))\n"
      "cases = {'picture': riff(b'WEBP', body), 'compressed': riff(b'WAVE', fmt(85, 2, 5000, 4, 16), body),\n"
      "  'odd_bits': riff(b'WAVE', fmt(1, 2, 5000, 3, 12), body), 'no_rate': riff(b'WAVE', fmt(1, 2, 0, 4, 16), "
      "body),\n"
      "  'no_channels': riff(b'WAVE', fmt(1, 0, 5000, 4, 16), body), 'block': riff(b'WAVE', fmt(1, 2, 5000, 6, 16), "
      "body),\n"
      "  'mono': riff(b'WAVE', fmt(1, 1, 5000, 2, 16), body), 'three': riff(b'WAVE', fmt(1, 3, 5000, 6, 16), body),\n"
      "  'no_format': riff(b'WAVE', body), 'no_data': riff(b'WAVE', fmt(1, 2, 5000, 4, 16)),\n"
      "  'short_format': riff(b'WAVE', chunk(b'fmt ', b'abc'), body), 'nan': riff(b'WAVE', fmt(3, 2, 5000, 8, 32),\n"
      "     chunk(b'data', struct.pack('<4f', 0, 0, 0, float('nan')) * 100)), 'cut': riff(b'WAVE', fmt(1, 2, 5000, 4, "
      "16))[:30]}\n"
      "for name, bytes_ in cases.items(): open(name + '.wav', 'wb').write(bytes_)\n");
  const std::vector<std::pair<std::string, std::string>> cases{{"picture", "another kind of RIFF file"},
                                                               {"compressed", "compressed (format tag 85)"},
                                                               {"odd_bits", "12 bits"},
                                                               {"no_rate", "sample rate is zero"},
                                                               {"no_channels", "0 channels"},
                                                               {"block", "takes 6 bytes"},
                                                               {"mono", "no column of current"},
                                                               {"three", "more columns than"},
                                                               {"no_format", "format ahead of them"},
                                                               {"no_data", "holds no samples"},
                                                               {"short_format", "too few bytes"},
                                                               {"nan", "or for none; the first is sample 2"},
                                                               {"cut", "ends within"}};
  for (const auto& [name, part] : cases) {
    const std::string message = refusal(place(name + ".wav"));
    EXPECT_NE(message.find(part), std::string::npos) << name << ": " << message;
  }
}

TEST_F(BinaryForms, WavThatEndsTooEarlyIsReadAsFarAsItGoes) {
  python(
      "with wave.open('whole.wav', 'wb') as file:\n"
      "  file.setnchannels(2); file.setsampwidth(2); file.setframerate(5000)\n"
      "  for a, b in zip(v, i): file.writeframesraw(struct.pack('<hh', round(a * 60), round(b * 30000)))\n"
      "open('cut.wav', 'wb').write(open('whole.wav', 'rb').read()[:-1001])\n");
  const Capture found = read_capture(place("cut.wav"), full_scale());
  EXPECT_EQ(found.samples(), 149U);
  EXPECT_TRUE(has(found, "truncated_file"));
}

// Written by NumPy itself: the values are the ones that went in, to the step of the type.
TEST_F(BinaryForms, NumpyArraysOfEveryTypeAndOrder) {
  python(
      "import numpy as np\n"
      "t = np.arange(400) * 2e-4\n"
      "a = np.stack([t, v, i], axis=1)\n"
      "np.save('float64.npy', a)\n"
      "np.save('float32.npy', a[:, 1:].astype('<f4'))\n"
      "np.save('big_endian.npy', a.astype('>f8'))\n"
      "np.save('fortran.npy', np.asfortranarray(a))\n"
      "np.save('rows.npy', np.ascontiguousarray(a.T))\n"
      "np.save('without_time.npy', a[:, 1:])\n"
      "for code in ('i2', '>i4', 'i8'):\n"
      "  np.save(f'{code[-2:]}.npy', np.stack([np.round(np.array(v) * 50), np.round(np.array(i) * 50000)], "
      "axis=1).astype(code))\n"
      "fields = np.zeros(400, dtype=[('time', '<f8'), ('note', '<u2'), ('lamp_i', '>f4'), ('lamp_u', '<f4')])\n"
      "fields['time'], fields['lamp_u'], fields['lamp_i'] = t, v, i\n"
      "np.save('fields.npy', fields)\n"
      "with open('second.npy', 'wb') as file: np.lib.format.write_array(file, a, version=(2, 0))\n"
      "with open('third.npy', 'wb') as file: np.lib.format.write_array(file, a, version=(3, 0))\n");
  for (const char* name : {"float64.npy", "big_endian.npy", "fortran.npy", "rows.npy", "second.npy", "third.npy"}) {
    SCOPED_TRACE(name);
    expect_signal(read_capture(place(name), {}), 1e-12, 1e-12);
  }

  CaptureOptions untimed;
  untimed.sample_interval_s = 2e-4;
  expect_signal(read_capture(place("float32.npy"), untimed), 1e-4, 1e-6);
  expect_signal(read_capture(place("without_time.npy"), untimed), 1e-12, 1e-12);
  untimed.voltage_scale = 1.0 / 50.0;
  untimed.current_scale = 1.0 / 50000.0;
  for (const char* name : {"i2.npy", "i4.npy", "i8.npy"}) {
    SCOPED_TRACE(name);
    expect_signal(read_capture(place(name), untimed), 1.0 / 50.0, 1.0 / 50000.0);
  }

  CaptureOptions named;
  named.voltage_column = "lamp_u";
  named.current_column = "lamp_i";
  expect_signal(read_capture(place("fields.npy"), named), 1e-4, 1e-6);
}

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

TEST_F(BinaryForms, ComtradeOfEveryKindOfData) {
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

TEST_F(BinaryForms, ComtradeOf1991SaysNoYearAndNoFactor) {
  std::string old = configuration("ASCII", "1\n5000,400\n", "", "");
  // Ten values a channel, as of that year.
  for (auto at = old.find(",1,1,P"); at != std::string::npos; at = old.find(",1,1,P")) old.erase(at, 6);
  write(old, "old.cfg");
  write(text_data(), "old.dat");
  expect_signal(read_capture(place("old.cfg")), 0.01, 2e-5);
}

// No sampling rate: the samples' own stamps count, in microseconds, or in nanoseconds where the dates are as fine.
TEST_F(BinaryForms, ComtradeWithoutARateIsTimedByItsStamps) {
  write(configuration("ASCII", "0\n0,400\n"), "stamps.cfg");
  write(text_data(), "stamps.dat");
  expect_signal(read_capture(place("stamps.cfg")), 0.01, 2e-5);

  std::string fine = configuration("ASCII", "0\n0,400\n", ",2013", "1000\n");
  for (auto at = fine.find("00.0"); at != std::string::npos; at = fine.find("00.0", at + 4)) fine.insert(at + 4, "000");
  write(fine, "fine.cfg");
  write(text_data(), "fine.dat");
  expect_signal(read_capture(place("fine.cfg")), 0.01, 2e-5);
}

TEST_F(BinaryForms, ComtradeWithSeveralRatesIsResampled) {
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

TEST_F(BinaryForms, ComtradeThatCannotServeIsRefused) {
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

TEST_F(BinaryForms, ComtradeSaysWhatAPersonShouldKnow) {
  std::string transformed = configuration("BINARY", "1\n5000,500\n");
  transformed.replace(transformed.find("1,1,P"), 5, "230,100,S");
  transformed.replace(transformed.find("-1,0,"), 5, "-1,12.5,");
  write(transformed, "notes.cfg");
  write(binary_data<std::int16_t>(), "notes.dat");
  const Capture found = read_capture(place("notes.cfg"));
  EXPECT_EQ(found.samples(), samples);
  EXPECT_TRUE(has(found, "truncated_file"));
  EXPECT_TRUE(has(found, "secondary_values"));
  EXPECT_TRUE(has(found, "channel_skew"));
}

}  // namespace
}  // namespace lampload::capture_binary_test
