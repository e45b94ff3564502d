#include "cli/output_file.h"

#include <fmt/format.h>

#include <cstdio>
#include <filesystem>
#include <fstream>

#include "core/error.h"

namespace lampload {

void write_output(const std::string& file, const std::string& text) {
  if (file.empty()) {
    std::fwrite(text.data(), 1, text.size(), stdout);
    return;
  }
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
