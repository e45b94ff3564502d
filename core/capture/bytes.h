#pragma once
// Numbers in binary files, whatever the byte order of the machine.

#include <array>
#include <bit>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <utility>

namespace lampload {

/// The little-endian number of type T that begins at `from`.
template <class T>
T little_endian(const char* from) {
  std::array<char, sizeof(T)> bytes;
  std::memcpy(bytes.data(), from, sizeof(T));
  if constexpr (std::endian::native == std::endian::big) {
    for (std::size_t k = 0; k < sizeof(T) / 2; ++k) std::swap(bytes[k], bytes[sizeof(T) - 1 - k]);
  }
  return std::bit_cast<T>(bytes);
}

}  // namespace lampload
