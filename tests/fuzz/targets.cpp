#include "tests/fuzz/targets.h"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include "core/capture/layout_file.h"
#include "core/capture/read.h"
#include "core/capture/text_table.h"
#include "core/error.h"
#include "db/canonical_json.h"
#include "db/digest.h"
#include "db/lamp_file.h"

namespace lampload::fuzz {
namespace {

void require(bool holds) {
  if (!holds) std::abort();
}

/// A folder in memory, where there is one; the files in it are written anew for every input.
const std::filesystem::path& folder() {
  static const std::filesystem::path place = [] {
    std::error_code failure;
    const std::filesystem::path memory = "/dev/shm";
    const auto base = std::filesystem::is_directory(memory, failure) ? memory : std::filesystem::temp_directory_path();
    auto made = base / ("lampload_fuzz_" + std::to_string(getpid()));
    std::filesystem::create_directories(made);
    std::atexit([] {
      std::error_code ignored;
      std::filesystem::remove_all(folder(), ignored);
    });
    return made;
  }();
  return place;
}

std::string file_of(const char* name, std::string_view bytes) {
  const std::string path = (folder() / name).string();
  const int file = open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
  require(file >= 0);
  require(write(file, bytes.data(), bytes.size()) == static_cast<ssize_t>(bytes.size()));
  close(file);
  return path;
}

/// False: it was refused, as it should be.
bool sound_or_refused(const std::string& path, const CaptureOptions& options = {}) {
  try {
    const Capture capture = read_capture(path, options);
    require(capture.samples() >= 2 && capture.current_a.size() == capture.samples());
    require(std::isfinite(capture.sample_interval_s) && capture.sample_interval_s > 0.0);
    require(capture.clipped.empty() || capture.clipped.size() == capture.samples());
    for (const double value : capture.voltage_v) require(std::isfinite(value));
    for (const double value : capture.current_a) require(std::isfinite(value));
    return true;
  } catch (const Error& error) {
    require(error.code() == ErrorCode::input_refused && !error.message().empty() && !error.remedy().empty());
    return false;
  }
}

CaptureOptions chosen(const char* voltage, const char* current) {
  CaptureOptions options;
  options.voltage_column = voltage;
  options.current_column = current;
  return options;
}

/// As it is, then with what a person could add.
void read_in_every_way(const std::string& path) {
  if (sound_or_refused(path)) return;
  CaptureOptions timed = chosen("1", "2");
  timed.sample_interval_s = 1e-5;
  sound_or_refused(path, timed);
  sound_or_refused(path, chosen("2", "3"));
}

void text_table(std::string_view bytes) { read_in_every_way(file_of("capture.csv", bytes)); }
void packed(std::string_view bytes) { sound_or_refused(file_of("capture.gz", bytes)); }
void numpy(std::string_view bytes) { read_in_every_way(file_of("capture.npy", bytes)); }
void wav(std::string_view bytes) { read_in_every_way(file_of("capture.wav", bytes)); }

/// A single file of both parts; else configuration and data, between which stands an empty line.
void comtrade(std::string_view bytes) {
  if (bytes.starts_with("---")) return read_in_every_way(file_of("record.cff", bytes));
  const auto mark = bytes.find("\n\n");
  const std::string configuration = file_of("record.cfg", bytes.substr(0, mark));
  file_of("record.dat", mark == std::string_view::npos ? std::string_view{} : bytes.substr(mark + 2));
  read_in_every_way(configuration);
}

/// A layout, and a table that it is used on.
void layout(std::string_view bytes) {
  static const std::string table = file_of("table.csv", [] {
    std::string text = "a layout that is not recognised\nred;green;blue\n";
    for (int k = 0; k < 40; ++k)
      text += std::to_string(k) + ";" + std::to_string(k % 7) + ",5;" + std::to_string(k % 5) + "\n";
    return text;
  }());
  const std::string file = file_of("capture.layout", bytes);
  CaptureOptions options;
  try {
    options.layout = read_layout_file(file);
  } catch (const Error& error) {
    require(error.code() == ErrorCode::input_refused && !error.message().empty() && !error.remedy().empty());
    return;
  }
  sound_or_refused(table, options);
  try {
    const std::string again = file_of("again.layout", layout_text_of(table, options));
    (void)read_layout_file(again);  // what is written can be read
  } catch (const Error& error) {
    require(error.place().file == table);
  }
}

/// What is read is written the same again, in either layout, and read again.
void read_lamps(const std::string& text) {
  try {
    const std::vector<SharedLamp> lamps = parse_lamp_file(text, "lamp.json");
    for (const LampFileLayout layout : {LampFileLayout::lines, LampFileLayout::canonical}) {
      const std::string again = lamp_file_text(lamps, layout);
      require(lamp_file_text(parse_lamp_file(again, "again.json"), layout) == again);
    }
  } catch (const Error& error) {
    require(error.code() == ErrorCode::input_refused && !error.message().empty() && !error.place().file.empty());
  }
}

/// As it is; then with every record sealed anew without a signature, so that changes get past the digest.
void lamp_file(std::string_view bytes) {
  read_lamps(std::string(bytes));
  try {
    json::Json document = json::parse(bytes, "lamp.json", deepest_lamp_file, largest_lamp_file);
    if (!document.is_object() || !document.contains("lamps") || !document["lamps"].is_array()) return;
    for (json::Json& lamp : document["lamps"]) {
      if (!lamp.is_object()) continue;
      lamp.erase("digest");
      lamp.erase("signature");
      if (lamp.contains("contributor") && lamp["contributor"].is_object()) lamp["contributor"].erase("public_key");
      const std::string digest = sha256_hex(json::canonical(lamp));
      lamp["digest"] = digest;
    }
    read_lamps(json::canonical(document));
  } catch (const Error& error) {
    require(error.code() == ErrorCode::input_refused);
  }
}

constexpr std::array all_targets = {
    Target{"text_table", text_table}, Target{"packed", packed}, Target{"wav", wav},
    Target{"comtrade", comtrade},     Target{"numpy", numpy},   Target{"layout", layout},
    Target{"lamp_file", lamp_file},
};

}  // namespace

std::span<const Target> targets() { return all_targets; }

}  // namespace lampload::fuzz
