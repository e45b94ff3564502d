#include "db/signature.h"

#include <sodium.h>

#include <algorithm>
#include <array>

#include "core/error.h"

namespace lampload {
namespace {

static_assert(public_key_digits == 2 * crypto_sign_PUBLICKEYBYTES);
static_assert(signature_digits == 2 * crypto_sign_BYTES);

const unsigned char* bytes_of(std::string_view text) { return reinterpret_cast<const unsigned char*>(text.data()); }

std::string to_hex(const unsigned char* bytes, std::size_t count) {
  std::string hex(2 * count + 1, '\0');
  sodium_bin2hex(hex.data(), hex.size(), bytes, count);
  hex.pop_back();
  return hex;
}

/// `hex` must be is_hex().
std::string from_hex(std::string_view hex) {
  std::string bytes(hex.size() / 2, '\0');
  sodium_hex2bin(reinterpret_cast<unsigned char*>(bytes.data()), bytes.size(), hex.data(), hex.size(), nullptr, nullptr,
                 nullptr);
  return bytes;
}

struct Pair {
  std::array<unsigned char, crypto_sign_PUBLICKEYBYTES> open{};
  std::array<unsigned char, crypto_sign_SECRETKEYBYTES> secret{};
  explicit Pair(const std::string& seed) { crypto_sign_seed_keypair(open.data(), secret.data(), bytes_of(seed)); }
  ~Pair() { sodium_memzero(secret.data(), secret.size()); }
  Pair(const Pair&) = delete;
  Pair& operator=(const Pair&) = delete;
};

}  // namespace

bool is_hex(std::string_view text, std::size_t digits) {
  return text.size() == digits &&
         std::all_of(text.begin(), text.end(), [](char c) { return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'); });
}

SecretKey::SecretKey(std::string_view seed_hex) {
  if (!is_hex(seed_hex, 2 * crypto_sign_SEEDBYTES)) {
    throw Error(ErrorCode::input_refused, "a secret key of 64 lower-case hexadecimal digits was expected");
  }
  seed_ = from_hex(seed_hex);
  const Pair pair(seed_);
  public_key_ = to_hex(pair.open.data(), pair.open.size());
}

SecretKey SecretKey::make() {
  if (sodium_init() < 0) throw Error(ErrorCode::calculation, "no random numbers for a key are to be had here");
  std::string seed(crypto_sign_SEEDBYTES, '\0');
  randombytes_buf(seed.data(), seed.size());
  SecretKey key(to_hex(bytes_of(seed), seed.size()));
  sodium_memzero(seed.data(), seed.size());
  return key;
}

SecretKey::~SecretKey() { sodium_memzero(seed_.data(), seed_.size()); }

std::string SecretKey::seed_hex() const { return to_hex(bytes_of(seed_), seed_.size()); }

std::string SecretKey::sign(std::string_view message) const {
  const Pair pair(seed_);
  std::array<unsigned char, crypto_sign_BYTES> signature{};
  crypto_sign_detached(signature.data(), nullptr, bytes_of(message), message.size(), pair.secret.data());
  return to_hex(signature.data(), signature.size());
}

bool signature_holds(std::string_view public_key, std::string_view message, std::string_view signature) {
  if (!is_hex(public_key, public_key_digits) || !is_hex(signature, signature_digits)) return false;
  return crypto_sign_verify_detached(bytes_of(from_hex(signature)), bytes_of(message), message.size(),
                                     bytes_of(from_hex(public_key))) == 0;
}

std::string in_short(std::string_view hex) { return std::string(hex.substr(0, 12)); }

}  // namespace lampload
