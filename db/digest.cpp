#include "db/digest.h"

#include <sodium.h>

#include <array>
#include <fstream>
#include <iterator>

#include "core/error.h"

namespace lampload {

std::string sha256_hex(std::string_view bytes) {
  std::array<unsigned char, crypto_hash_sha256_BYTES> hash{};
  crypto_hash_sha256(hash.data(), reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size());
  std::array<char, 2 * crypto_hash_sha256_BYTES + 1> hex{};
  sodium_bin2hex(hex.data(), hex.size(), hash.data(), hash.size());
  return hex.data();
}

std::string sha256_of_file(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  if (!file.is_open() || file.bad()) {
    throw Error(ErrorCode::input_refused, "cannot be read", Place{.file = path}, "Check the name and the permissions.");
  }
  return sha256_hex(bytes);
}

}  // namespace lampload
