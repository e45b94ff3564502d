#pragma once
// Sample arrays as compressed blobs. Codec "shuffle-zstd": the bytes of all little-endian float64 values, first every
// lowest byte, then every second one, ... (neighbouring samples differ little in their high bytes), then one zstd frame
// with its content checksum.

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace lampload::blob {

inline constexpr std::string_view codec = "shuffle-zstd";

std::string pack(std::span<const double> values);
std::string pack_bytes(std::span<const std::uint8_t> bytes);

/// Bit for bit what pack() was given. Throws Error{library} where the frame is damaged or does not hold `count` values.
std::vector<double> unpack(std::string_view frame, std::size_t count);
std::vector<std::uint8_t> unpack_bytes(std::string_view frame, std::size_t count);

/// Plain little-endian float64, for short arrays.
std::string plain(std::span<const double> values);
std::vector<double> from_plain(std::string_view bytes);

}  // namespace lampload::blob
