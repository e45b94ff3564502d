#pragma once
// SHA-256 of files and bytes, in lower-case hexadecimal.

#include <string>
#include <string_view>

namespace lampload {

std::string sha256_hex(std::string_view bytes);
/// Throws Error{input_refused} where the file cannot be read.
std::string sha256_of_file(const std::string& path);

}  // namespace lampload
