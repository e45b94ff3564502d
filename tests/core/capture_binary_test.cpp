// WAV files and NumPy arrays, written by Python's own modules or byte by byte as the standards say.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <numbers>
#include <string>
#include <vector>

#include "core/capture/read.h"
#include "core/error.h"
#include "tests/core/binary_signal.h"

namespace lampload::capture_binary_test {
namespace {

using namespace binary_signal;
using test::has;

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

}  // namespace
}  // namespace lampload::capture_binary_test
