// Packed files and other encodings, made by programs that are not this project's: gzip, zstd, iconv.
#include <gtest/gtest.h>

#include <cstdlib>
#include <string>

#include "core/capture/read.h"
#include "tests/core/capture_signal.h"

namespace lampload::capture_encoding_test {
namespace {

class Encoded : public test::InFolder {
 protected:
  void SetUp() override {
    InFolder::SetUp();
    // A millionth sign and an umlaut: what differs between encodings.
    std::string text = "# W\u00e4rmelampe der Sauna\nZeit [\u00b5s];Spannung [V];Strom [A]\n";
    for (int k = 0; k < 20000; ++k) {
      text += std::to_string(20 * k) + ";" + std::to_string(k % 650 - 325) + ",5;" + std::to_string(k % 7) + ",25\n";
    }
    write(text);
  }

  /// Runs a shell command in the folder.
  void run(const std::string& command) const {
    ASSERT_EQ(std::system(("cd '" + folder_.string() + "' && " + command).c_str()), 0) << command;
  }
  void expect_same(const std::string& name, const std::string& code) const {
    const Capture wanted = read_capture(place("capture.csv"));
    const Capture found = read_capture(place(name));
    EXPECT_EQ(found.voltage_v, wanted.voltage_v);
    EXPECT_EQ(found.current_a, wanted.current_a);
    EXPECT_EQ(found.sample_interval_s, wanted.sample_interval_s);
    EXPECT_TRUE(test::has(found, code)) << code;
  }
  [[nodiscard]] std::string refusal(const std::string& name) const { return InFolder::refusal(place(name)); }
};

TEST_F(Encoded, PackedFilesAreReadAsWhatTheyHold) {
  run("gzip -k capture.csv && zstd -q capture.csv -o capture.zst");
  expect_same("capture.csv.gz", "unpacked");
  expect_same("capture.zst", "unpacked");
  // The name says nothing, and several members one after the other are one file (RFC 1952, 2.2; RFC 8878, 3.1).
  run("split -n 2 capture.csv half_ && gzip -c half_aa > two.csv && gzip -c half_ab >> two.csv");
  expect_same("two.csv", "unpacked");
  run("zstd -q -c half_aa > two.dat && zstd -q -c half_ab >> two.dat");
  expect_same("two.dat", "unpacked");
}

TEST_F(Encoded, DamagedPackedFilesAreRefused) {
  run("gzip -k capture.csv && head -c 20000 capture.csv.gz > short.gz && zstd -q capture.csv -o capture.zst && "
      "head -c 10000 capture.zst > short.zst && cp capture.csv.gz bent.gz && "
      "printf '\\377\\377\\377\\377\\377\\377' | dd of=bent.gz bs=1 seek=9000 conv=notrunc status=none && "
      "cp capture.zst bent.zst && printf '\\377\\377\\377\\377\\377\\377' | dd of=bent.zst bs=1 seek=40 conv=notrunc "
      "status=none");
  EXPECT_NE(refusal("short.gz").find("ends too early"), std::string::npos) << refusal("short.gz");
  EXPECT_NE(refusal("short.zst").find("ends too early"), std::string::npos) << refusal("short.zst");
  EXPECT_NE(refusal("bent.gz").find("damaged gzip"), std::string::npos) << refusal("bent.gz");
  EXPECT_NE(refusal("bent.zst").find("damaged zstd"), std::string::npos) << refusal("bent.zst");
}

TEST_F(Encoded, OtherEncodingsAreRead) {
  run("iconv -f UTF-8 -t ISO-8859-1 capture.csv > latin.csv");
  expect_same("latin.csv", "text_encoding");
  run("iconv -f UTF-8 -t UTF-16LE capture.csv > little.csv && iconv -f UTF-8 -t UTF-16BE capture.csv > big.csv");
  expect_same("little.csv", "text_encoding");
  expect_same("big.csv", "text_encoding");
  run("(printf '\\377\\376'; cat little.csv) > marked.csv && (printf '\\376\\377'; cat big.csv) > marked_big.csv");
  expect_same("marked.csv", "text_encoding");
  expect_same("marked_big.csv", "text_encoding");
  run("gzip -k marked.csv");
  expect_same("marked.csv.gz", "text_encoding");
}

TEST_F(Encoded, LineEndsOfAllKinds) {
  run("sed 's/$/\\r/' capture.csv > windows.csv && sed 's/$/\\r\\r/' capture.csv > twice.csv");
  EXPECT_EQ(read_capture(place("windows.csv")).voltage_v, read_capture(place("capture.csv")).voltage_v);
  EXPECT_EQ(read_capture(place("twice.csv")).voltage_v, read_capture(place("capture.csv")).voltage_v);
}

// A last line without its end is left out where it cannot be read, packed or not.
TEST_F(Encoded, ACutLastLineOfAPackedFileIsForgiven) {
  run("(cat capture.csv; printf '400000;2,5;x') > cut.csv && gzip -k cut.csv");
  for (const char* name : {"cut.csv", "cut.csv.gz"}) {
    const Capture found = read_capture(place(name));
    EXPECT_EQ(found.samples(), 20000U);
    EXPECT_TRUE(test::has(found, "truncated_last_line"));
  }
  run("(cat capture.csv; printf '400000;2,5;x\\n') > whole.csv && gzip -k whole.csv");
  EXPECT_NE(refusal("whole.csv").find("\"x\""), std::string::npos);
  EXPECT_NE(refusal("whole.csv.gz").find("\"x\""), std::string::npos);
}

}  // namespace
}  // namespace lampload::capture_encoding_test
