// WAV files and NumPy arrays with more channels than two, that end early or were never finished, and with marks in the
// place of values.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "core/capture/read.h"
#include "tests/core/binary_signal.h"

namespace lampload::capture_binary_ends_test {
namespace {

using namespace binary_signal;
using test::has;

class BinaryEnds : public BinaryForms {};

CaptureOptions columns(const std::string& voltage, const std::string& current) {
  CaptureOptions options;
  options.voltage_column = voltage;
  options.current_column = current;
  return options;
}

// What numpy.save() writes by itself is version 1, whose header is Latin-1; version 3 is UTF-8
// (numpy.lib.format, "Format Version 1.0" and "3.0").
TEST_F(BinaryEnds, NumpyNamesOutsideAscii) {
  python(
      "import numpy as np\n"
      "def fields(time, current):\n"
      "  a = np.zeros(400, dtype=[(time, 'f8'), ('tension (V)', 'f8'), (current, 'f8')])\n"
      "  a[time], a['tension (V)'], a[current] = np.arange(400) * 200.0, v, np.array(i) * 1e6\n"
      "  return a\n"
      "micro = fields('temps (\\u00b5s)', 'courant (\\u00b5A)')\n"
      "np.save('first.npy', micro)\n"
      "assert open('first.npy', 'rb').read()[6] == 1\n"
      "for version in (2, 3):\n"
      "  with open(f'{version}.npy', 'wb') as file: np.lib.format.write_array(file, micro, version=(version, 0))\n"
      "with open('greek.npy', 'wb') as file:\n"
      "  np.lib.format.write_array(file, fields('temps (\\u03bcs)', 'courant (\\u03bcA)'), version=(3, 0))\n");
  for (const char* name : {"first.npy", "2.npy", "3.npy", "greek.npy"}) {
    SCOPED_TRACE(name);
    const Capture found = read_capture(place(name));
    expect_signal(found, 1e-9, 1e-9);
    ASSERT_EQ(found.form.columns.size(), 3U);
    EXPECT_DOUBLE_EQ(found.form.columns[2].factor, 1e-6);
    if (std::string(name) == "greek.npy") continue;
    EXPECT_EQ(found.form.columns[2].name, "courant (\u00b5A)");
  }
}

TEST_F(BinaryEnds, TwoOfManyChannels) {
  python(
      "import numpy as np\n"
      "with wave.open('four.wav', 'wb') as file:\n"
      "  file.setnchannels(4); file.setsampwidth(4); file.setframerate(5000)\n"
      "  for a, b in zip(v, i):\n"
      "    file.writeframesraw(struct.pack('<4i', 7, round(b * 2 ** 31), round(a / 500 * 2 ** 31), -7))\n"
      "np.save('four.npy', np.stack([np.zeros(400), i, v, np.ones(400)], axis=1))\n");
  CaptureOptions chosen = columns("3", "2");
  chosen.voltage_scale = 500.0;
  expect_signal(read_capture(place("four.wav"), chosen), 1e-6, 1e-9);
  chosen = columns("3", "2");
  chosen.sample_interval_s = 2e-4;
  expect_signal(read_capture(place("four.npy"), chosen), 1e-9, 1e-9);
  // As two files of one channel each.
  CaptureOptions apart = columns("3", "2");
  apart.voltage_scale = 500.0;
  expect_signal(read_capture(place("four.wav") + "+" + place("four.wav"), apart), 1e-6, 1e-9);

  // What is not chosen is asked for, by the options that help in this form.
  const auto remedy = [&](const std::string& name, const CaptureOptions& options) {
    try {
      read_capture(place(name), options);
    } catch (const Error& error) {
      return std::string(error.what()) + " | " + error.remedy();
    }
    return std::string("accepted");
  };
  CaptureOptions half;
  half.voltage_column = "3";
  for (const CaptureOptions& options : {CaptureOptions{}, half}) {
    const std::string wav = remedy("four.wav", options);
    EXPECT_NE(wav.find("more columns than voltage and current"), std::string::npos) << wav;
    EXPECT_NE(wav.find("with --voltage-column and --current-column"), std::string::npos) << wav;
    EXPECT_EQ(wav.find("--time-column"), std::string::npos) << wav;
  }
  for (const CaptureOptions& options : {CaptureOptions{}, columns("3", "2")}) {
    const std::string numpy = remedy("four.npy", options);
    EXPECT_NE(numpy.find("with --voltage-column and --current-column, and the time with --time-column or, where no "
                         "column holds it, --sample-interval"),
              std::string::npos)
        << numpy;
  }
}

TEST_F(BinaryEnds, NumpyArrayThatEndsEarlyIsReadAsFarAsItGoes) {
  python(
      "import numpy as np\n"
      "a = np.stack([np.arange(400) * 2e-4, v, i], axis=1)\n"
      "np.save('rows.npy', a)\n"
      "np.save('channels.npy', np.asfortranarray(a))\n"
      "for name in ('rows', 'channels'):\n"
      "  whole = open(name + '.npy', 'rb').read()\n"
      "  open(name + '_short.npy', 'wb').write(whole[:-1004])\n"
      "  open(name + '_half.npy', 'wb').write(whole[:len(whole) * 6 // 10])\n");
  // 1004 bytes: 41 rows and a part of one; of the last channel 125 values and a part of one.
  for (const auto& [name, count] : {std::pair{"rows_short.npy", 358U}, std::pair{"channels_short.npy", 274U}}) {
    SCOPED_TRACE(name);
    const Capture found = read_capture(place(name));
    ASSERT_EQ(found.samples(), count);
    for (std::size_t k = 0; k < count; ++k) {
      ASSERT_NEAR(found.voltage_v[k], volts(k), 1e-9) << k;
      ASSERT_NEAR(found.current_a[k], amperes(k), 1e-9) << k;
    }
    EXPECT_NE(message_of(found, "truncated_file")
                  .find("promises 400 samples and holds " + std::to_string(count) + "; what is there was read"),
              std::string::npos);
  }
  EXPECT_TRUE(has(read_capture(place("rows_half.npy")), "truncated_file"));
  const std::string none = refusal(place("channels_half.npy"));
  EXPECT_NE(none.find("ends early: it promises 400 values of 3 channels, of which 0 are there of every one"),
            std::string::npos)
      << none;
}

// A length that was never filled in, and text behind the samples; RF64 as EBU Tech 3306 has it.
TEST_F(BinaryEnds, WavThatWasNeverFinished) {
  python(
      "def chunk(name, body): return name + struct.pack('<I', len(body)) + body + b'\\0' * (len(body) % 2)\n"
      "form = chunk(b'fmt ', struct.pack('<HHIIHH', 3, 2, 5000, 40000, 8, 32))\n"
      "data = b''.join(struct.pack('<2f', a / 500, b) for a, b in zip(v, i))\n"
      "text = chunk(b'LIST', b'INFOISFT' + struct.pack('<I', 14) + b'a recorder 1.0') + chunk(b'cue ', bytes(4))\n"
      "ds64 = chunk(b'ds64', bytes(28))\n"
      "for name, size in (('zero', bytes(4)), ('open', b'\\xff' * 4)):\n"
      "  for end, behind in (('', b''), ('_text', text), ('_odd', text + b'LIST' + struct.pack('<I', 3) + b'odd')):\n"
      "    open(name + end + '.wav', 'wb').write(b'RIFF' + size + b'WAVE' + form + b'data' + size + data + behind)\n"
      "    open(name + end + '_wide.wav', 'wb').write(b'RF64' + b'\\xff' * 4 + b'WAVE' + ds64 + form + b'data' + size "
      "+ data + behind)\n"
      "open('nothing.wav', 'wb').write(b'RIFF' + bytes(4) + b'WAVE' + form + b'data' + bytes(4) + text)\n");
  for (const std::string name : {"zero", "open"}) {
    for (const std::string end : {"", "_text", "_odd"}) {
      for (const std::string form : {".wav", "_wide.wav"}) {
        SCOPED_TRACE(name + end + form);
        expect_signal(read_capture(place(name + end + form), full_scale()), 1e-4, 1e-6);
      }
    }
  }
  EXPECT_NE(refusal(place("nothing.wav")).find("holds 0 samples"), std::string::npos);
}

// 1e30 and more, infinity and NaN stand for a value beyond the range, in a file of floats as in a text.
TEST_F(BinaryEnds, MarksInThePlaceOfValues) {
  python(
      "import numpy as np\n"
      "t = np.arange(400) * 2e-4\n"
      "for name, up, down in (('largest', 3.4e38, -3.4e38), ('round', 1e30, -1e30), ('endless', np.inf, -np.inf)):\n"
      "  u = np.array(v); u[24], u[75] = up, down\n"
      "  np.save(name + '.npy', np.stack([t, u, i], axis=1))\n"
      "  milli = np.zeros(400, dtype=[('t', 'f8'), ('u (mV)', 'f4'), ('i (A)', 'f4')])\n"
      "  milli['t'], milli['u (mV)'], milli['i (A)'] = t, u, i\n"
      "  for k in range(400): milli['u (mV)'][k] = u[k] if k in (24, 75) else v[k] * 1e3\n"
      "  np.save(name + '_milli.npy', milli)\n");
  for (const std::string name : {"largest", "round", "endless"}) {
    for (const std::string form : {".npy", "_milli.npy"}) {
      SCOPED_TRACE(name + form);
      const Capture found = read_capture(place(name + form));
      ASSERT_EQ(found.clipped.size(), samples);
      EXPECT_EQ(found.clipped[24], 1);
      EXPECT_EQ(found.clipped[75], 1);
      EXPECT_EQ(std::count(found.clipped.begin(), found.clipped.end(), std::uint8_t{0}), 398);
      // The sign is in the file: held at the ends of what was seen.
      EXPECT_NEAR(found.voltage_v[24], 325.0, 1e-3);
      EXPECT_NEAR(found.voltage_v[75], -325.0, 1e-3);
      EXPECT_TRUE(has(found, "overload_voltage"));
    }
  }
}

}  // namespace
}  // namespace lampload::capture_binary_ends_test
