#include "cli/output_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string_view>

#include "core/error.h"
#include "db/key_files.h"

namespace lampload {

namespace {

namespace fs = std::filesystem;

bool begins_with(const fs::path& file, std::string_view start) {
  std::string found(start.size(), '\0');
  std::ifstream in(file, std::ios::binary);
  in.read(found.data(), static_cast<std::streamsize>(found.size()));
  return in.gcount() == static_cast<std::streamsize>(start.size()) && found == start;
}

constexpr std::string_view sqlite_start("SQLite format 3\0", 16);

bool is_database(const fs::path& file) {
  std::error_code none;
  return fs::is_regular_file(file, none) && begins_with(file, sqlite_start);
}

/// A library, or what SQLite keeps beside one while it is used.
bool is_of_library(const fs::path& file) {
  if (is_database(file)) return true;
  const std::string name = file.string();
  for (const std::string_view end : {"-wal", "-shm", "-journal"}) {
    if (name.ends_with(end) && is_database(name.substr(0, name.size() - end.size()))) return true;
  }
  return false;
}

bool lies_among_keys(const fs::path& file) {
  std::error_code failure;
  const fs::path whole = fs::weakly_canonical(fs::absolute(file), failure);
  const fs::path place = fs::weakly_canonical(key_folder(), failure);
  return !failure && std::mismatch(place.begin(), place.end(), whole.begin(), whole.end()).first == place.end();
}

bool is_key(const fs::path& file) {
  std::error_code none;
  if (!fs::is_regular_file(file, none)) return false;
  std::string start(200, '\0');
  std::ifstream in(file, std::ios::binary);
  in.read(start.data(), static_cast<std::streamsize>(start.size()));
  return start.find("\"lampload-key\"") != std::string::npos;
}

/// What no output is worth: libraries and keys, which nothing brings back.
void refuse_precious(const std::string& file) {
  const auto refuse = [&](const char* message) {
    throw Error(ErrorCode::input_refused, message, Place{.file = file}, "Name another file");
  };
  if (file == "-") {
    throw Error(ErrorCode::input_refused, "'-' is not a place to write to", {},
                "Name a file; './-' if it shall be called so");
  }
  if (is_of_library(file)) refuse("is a library or another SQLite database, and was left alone");
  if (is_key(file)) refuse("is a key that signs, and was left alone");
  if (lies_among_keys(file)) refuse("lies in the folder of the keys that sign, where nothing else is written");
}

}  // namespace

void write_output(const std::string& file, const std::string& text) {
  if (file.empty()) {
    std::fwrite(text.data(), 1, text.size(), stdout);
    return;
  }
  refuse_precious(file);
  std::error_code failure;
  // what is there and no file, such as a device, cannot be replaced
  const bool special = std::filesystem::exists(file, failure) && !std::filesystem::is_regular_file(file, failure);
  const std::string part = special ? file : file + ".part";
  failure.clear();
  {
    std::ofstream out(part, std::ios::binary);
    out << text;
    out.close();
    if (!out) failure = std::make_error_code(std::errc::io_error);
  }
  if (!failure && !special) std::filesystem::rename(part, file, failure);
  if (!failure) return;
  std::error_code ignored;
  if (!special) std::filesystem::remove(part, ignored);
  throw Error(ErrorCode::input_refused, "the file could not be written", Place{.file = file},
              "Name a file in a folder that may be written to");
}

}  // namespace lampload
