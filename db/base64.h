#pragma once
// Base64 of RFC 4648 with padding: bytes inside JSON.

#include <string>
#include <string_view>

namespace lampload {

std::string to_base64(std::string_view bytes);
/// Throws Error{input_refused} for anything else than to_base64() gives.
std::string from_base64(std::string_view text);

}  // namespace lampload
