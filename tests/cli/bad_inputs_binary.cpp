#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>

#include "bad_inputs.h"

namespace lampload::test {
namespace {

std::string little(std::uint64_t value, int bytes) {
  std::string text;
  for (int k = 0; k < bytes; ++k) text += static_cast<char>(value >> (8 * k) & 0xFFU);
  return text;
}

std::string chunk(const std::string& name, const std::string& body) { return name + little(body.size(), 4) + body; }

std::string wav(const std::string& kind, const std::string& chunks) {
  return "RIFF" + little(4 + chunks.size(), 4) + kind + chunks;
}

std::string format(int tag, int channels, int rate, int block, int bits) {
  return chunk("fmt ", little(static_cast<std::uint64_t>(tag), 2) + little(static_cast<std::uint64_t>(channels), 2) +
                           little(static_cast<std::uint64_t>(rate), 4) + little(0, 4) +
                           little(static_cast<std::uint64_t>(block), 2) + little(static_cast<std::uint64_t>(bits), 2));
}

constexpr const char* configuration =
    "Boathouse,recorder,1999\n3,2A,1D\n1,Lamp voltage,A,,V,0.01,0.5,0,-32767,32767,1,1,P\n"
    "2,Lamp current,A,,A,0.001,0,0,-32767,32767,1,1,P\n1,Switch,A,,0\n50\n1\n5000,80\n"
    "01/02/2026,10:00:00.000000\n01/02/2026,10:00:00.010000\nASCII\n1\n";

std::string samples() {
  std::string text;
  for (int k = 0; k < 80; ++k) {
    const double angle = 0.157 * k;
    text += fmt::format("{},{},{},{},1\r\n", k + 1, 200 * k, std::lround(32500.0 * std::sin(angle)),
                        std::lround(400.0 * std::sin(angle)));
  }
  return text;
}

std::string changed(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  return text.replace(at, from.size(), to);
}

std::string numpy(const std::string& dictionary, std::size_t body_bytes) {
  return "\x93NUMPY" + std::string("\x01\x00", 2) + little(dictionary.size(), 2) + dictionary +
         std::string(body_bytes, '\x01');
}

}  // namespace

std::vector<BadInput> bad_wav_files() {
  std::vector<BadInput> cases;
  const std::string data = chunk("data", std::string(1600, '\0'));
  const auto add = [&](std::string name, std::string bytes, std::string message) {
    cases.push_back({"WAV: " + std::move(name), {{"bad.wav", std::move(bytes)}}, std::move(message)});
  };
  add("another kind", wav("WEBP", data), "is a WAV file, but it is another kind of RIFF file");
  add("compressed", wav("WAVE", format(85, 2, 5000, 4, 16) + data), "compressed (format tag 85)");
  add("twelve bits", wav("WAVE", format(1, 2, 5000, 3, 12) + data), "its samples have 12 bits");
  add("floats of 16 bits", wav("WAVE", format(3, 2, 5000, 4, 16) + data), "its samples have 16 bits");
  add("no rate", wav("WAVE", format(1, 2, 0, 4, 16) + data), "its sample rate is zero");
  add("no channels", wav("WAVE", format(1, 0, 5000, 4, 16) + data), "it has 0 channels");
  add("too many channels", wav("WAVE", format(1, 65, 5000, 130, 16) + data), "it has 65 channels");
  add("block", wav("WAVE", format(1, 2, 5000, 6, 16) + data), "a row of samples takes 6 bytes");
  add("one channel", wav("WAVE", format(1, 1, 5000, 2, 16) + data), "no column of current was found");
  add("three channels", wav("WAVE", format(1, 3, 5000, 6, 16) + data), "more columns than voltage and current");
  add("no format", wav("WAVE", data), "says nothing of its samples' format ahead of them");
  add("no data", wav("WAVE", format(1, 2, 5000, 4, 16)), "holds no samples");
  add("short format", wav("WAVE", chunk("fmt ", "abc") + data), "describes its samples in too few bytes");
  add("cut", wav("WAVE", format(1, 2, 5000, 4, 16)).substr(0, 30), "ends within the description of its samples");
  add("few samples", wav("WAVE", format(1, 2, 5000, 4, 16) + chunk("data", std::string(40, '\0'))), "fewer than 16");
  return cases;
}

std::vector<BadInput> bad_comtrade_records() {
  std::vector<BadInput> cases;
  const std::string good = configuration;
  const auto add = [&](std::string name, std::string text, std::string data, std::string message,
                       std::size_t line = 0) {
    cases.push_back({"COMTRADE: " + std::move(name),
                     {{"bad.cfg", std::move(text)}, {"bad.dat", std::move(data)}},
                     std::move(message),
                     {},
                     line});
  };
  add("too many channels", changed(good, "3,2A,1D", "99999,99998A,1D"), samples(),
      "the number of channels was expected", 2);
  add("factor", changed(good, "0.01,0.5", "x,0.5"), samples(), "the channel's factor was expected", 3);
  add("offset", changed(good, "0.01,0.5", "0.01,nan"), samples(), "the channel's offset was expected", 3);
  add("short channel", changed(good, ",A,,V,0.01,0.5,0,-32767,32767,1,1,P", ""), samples(),
      "an analog channel has ten values or thirteen", 3);
  add("rates", changed(good, "50\n1\n", "50\nmany\n"), samples(), "the number of sampling rates was expected", 7);
  add("rate below zero", changed(good, "5000,80", "-1,80"), samples(), "the sampling rate must be above zero", 8);
  add("rates falling", changed(good, "1\n5000,80", "2\n5000,60\n100,20"), samples(),
      "the rates' last samples must rise", 9);
  add("kind of data", changed(good, "ASCII", "EBCDIC"), samples(), "ASCII, BINARY, BINARY32 or FLOAT32 was expected",
      11);
  add("factor of stamps", good.substr(0, good.size() - 2) + "0\n", samples(),
      "the factor of the time stamps must be above zero", 12);
  add("cut", good.substr(0, good.find("50\n") + 3), samples(), "the file ends where the number of sampling rates");
  add("year", changed(good, ",1999", ",last"), samples(), "the revision's year was expected", 1);
  add("short row", good, samples().insert(samples().find("\n5,800,") + 1, "5,800,1\r\n"), "the line has 3 values", 5);
  add("word", good, changed(samples(), "\n5,800,", "\n5,800,x"), "a number was expected as value 3 of the line", 5);
  add("few samples", good, samples().substr(0, 60), "fewer than 16");
  add("no samples", good, "\n", "fewer than 16");
  cases.push_back(
      {"COMTRADE: alone", {{"bad.cfg", good}}, "is a COMTRADE record, but its data file (same name, .dat)"});
  cases.push_back({"COMTRADE: half a single file",
                   {{"bad.cff", "--- file type: CFG ---\n" + good}},
                   "the single-file record has no part with its data"});
  cases.push_back({"COMTRADE: other half",
                   {{"bad.cff", "--- file type: INF ---\n\n--- file type: DAT ASCII ---\n" + samples()}},
                   "the single-file record has no part with its configuration"});
  return cases;
}

std::vector<BadInput> bad_numpy_arrays() {
  std::vector<BadInput> cases;
  const auto add = [&](std::string name, std::string bytes, std::string message) {
    cases.push_back({"NumPy: " + std::move(name), {{"bad.npy", std::move(bytes)}}, std::move(message)});
  };
  const auto shaped = [](const std::string& shape, const std::string& type = "'<f8'") {
    return "{'descr': " + type + ", 'fortran_order': False, 'shape': " + shape + ", }\n";
  };
  add("cut in the header", numpy(shaped("(80, 3)"), 0).substr(0, 20), "ends within the description of its values");
  add("cut in the values", numpy(shaped("(80, 3)"), 100), "ends early: it promises 80 values of 3 channels");
  add("version", "\x93NUMPY" + std::string("\x09\x00\x00\x00", 4), "version 9 of the array format is not known");
  add("three dimensions", numpy(shaped("(2, 3, 4)"), 192), "it has 3 dimensions");
  add("no dimension", numpy(shaped("()"), 8), "it has 0 dimensions");
  add("complex numbers", numpy(shaped("(80, 3)", "'<c16'"), 10), "its values are of the type \"<c16\"");
  add("objects", numpy(shaped("(80, 3)", "'|O'"), 10), "its values are of the type \"|O\"");
  add("no type", numpy("{'fortran_order': False, 'shape': (80, 3), }\n", 10), "does not say type and shape");
  add("unknown key", numpy("{'colour': 'red', }\n", 10), "its header has a key \"colour\"");
  add("no dictionary", numpy("[1, 2, 3]\n", 10), "its header is damaged");
  add("enormous", numpy(shaped("(99999999999, 3)"), 10), "more values than a capture can have");
  add("a hundred channels", numpy(shaped("(200, 100)"), 10), "100 channels of 200 samples are more than a capture has");
  add("no time", numpy(shaped("(80, 2)"), 1280), "no column of current was found");
  add("one channel", numpy(shaped("(80,)"), 640), "no column of voltage was found");
  return cases;
}

std::vector<BadInput> bad_forms() {
  std::vector<BadInput> cases;
  const std::string noise(600, '\x02');
  const std::vector<std::pair<std::string, std::string>> forms{
      {"PK\x03\x04" + noise, "a zip archive or a spreadsheet"},
      {"7z\xBC\xAF\x27\x1C" + noise, "a 7z archive"},
      {"\xD0\xCF\x11\xE0" + noise, "an office document or spreadsheet"},
      {"\x89PNG\r\n\x1a\n" + noise, "a picture"},
      {"%PDF-1.4\n%\x01\x02\n" + noise, "a PDF document"},
      {"\x89HDF\r\n\x1a\n" + noise, "an HDF5 file"},
      {"MATLAB 5.0 MAT-file" + noise, "a MATLAB file of level 5"},
      {"SQLite format 3" + noise, "a database"},
      {"BZh9" + noise, "a bzip2 file"},
      {"fLaC" + noise, "a packed sound file (FLAC)"},
      {"<?xml version=\"1.0\"?>\n<wave>1,2</wave>\n", "an XML document"},
      {"<!DOCTYPE html>\n<html><body>1,2,3</body></html>\n", "a web page"},
      {"{\"time\": [0, 1], \"voltage\": [1, 2]}\n", "a JSON document"},
      {"version https://storage.example/spec\noid 12:34\nsize 195708\n", "a pointer to a file that is kept elsewhere"},
  };
  for (const auto& [bytes, form] : forms) {
    cases.push_back({"form: " + form, {{"bad.bin", bytes}}, "is " + form + ", from which no samples are read"});
  }
  cases.push_back(
      {"form: noise", {{"bad.bin", "\x01\x02\x03" + noise}}, "holds binary data of a form that no reader knows"});
  // RFC 1952 and RFC 8878: the first bytes of each, and nothing sound behind them.
  cases.push_back(
      {"gzip: noise", {{"bad.gz", "\x1F\x8B\x08" + std::string(7, '\0') + noise}}, "is a damaged gzip file"});
  cases.push_back({"gzip: cut", {{"bad.gz", "\x1F\x8B\x08"}}, "gzip"});
  cases.push_back({"zstd: noise", {{"bad.zst", "\x28\xB5\x2F\xFD" + noise}}, "is a damaged zstd file"});
  cases.push_back({"zstd: cut", {{"bad.zst", "\x28\xB5\x2F\xFD\x04"}}, "zstd"});
  return cases;
}

}  // namespace lampload::test
