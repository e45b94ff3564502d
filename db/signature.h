#pragma once
// Ed25519 signatures (RFC 8032). Keys and signatures are lower-case hexadecimal wherever they leave this file.

#include <string>
#include <string_view>

namespace lampload {

/// What signs: 32 secret bytes. Wiped where it goes out of scope.
class SecretKey {
 public:
  /// Throws Error{input_refused} where it is not 64 lower-case hexadecimal digits.
  explicit SecretKey(std::string_view seed_hex);
  static SecretKey make();
  ~SecretKey();
  SecretKey(const SecretKey& other) = default;
  SecretKey& operator=(const SecretKey& other) = default;

  [[nodiscard]] std::string seed_hex() const;
  [[nodiscard]] const std::string& public_key() const { return public_key_; }
  [[nodiscard]] std::string sign(std::string_view message) const;

 private:
  std::string seed_;
  std::string public_key_;
};

inline constexpr std::size_t public_key_digits = 64;
inline constexpr std::size_t signature_digits = 128;

/// Lower-case hexadecimal of this many digits?
bool is_hex(std::string_view text, std::size_t digits);
/// False for anything that is not this key's signature of this message, also where it is not even hexadecimal.
bool signature_holds(std::string_view public_key, std::string_view message, std::string_view signature);

/// The first digits of a key or a digest, as it is shown to people.
std::string in_short(std::string_view hex);

}  // namespace lampload
