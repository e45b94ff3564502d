#include "db/waveform_blob.h"

#include <fmt/format.h>
#include <zstd.h>

#include <bit>
#include <memory>

#include "core/error.h"

namespace lampload::blob {
namespace {

constexpr std::size_t width = sizeof(double);
constexpr int level = 3;

std::uint8_t byte_of(double value, std::size_t place) {
  return static_cast<std::uint8_t>(std::bit_cast<std::uint64_t>(value) >> (8 * place));
}

std::string compress(const void* data, std::size_t size) {
  const std::unique_ptr<ZSTD_CCtx, decltype(&ZSTD_freeCCtx)> context(ZSTD_createCCtx(), &ZSTD_freeCCtx);
  ZSTD_CCtx_setParameter(context.get(), ZSTD_c_compressionLevel, level);
  ZSTD_CCtx_setParameter(context.get(), ZSTD_c_checksumFlag, 1);
  std::string frame(ZSTD_compressBound(size), '\0');
  const std::size_t written = ZSTD_compress2(context.get(), frame.data(), frame.size(), data, size);
  if (ZSTD_isError(written) != 0) {
    throw Error(ErrorCode::library, fmt::format("samples could not be compressed: {}", ZSTD_getErrorName(written)));
  }
  frame.resize(written);
  return frame;
}

std::vector<std::uint8_t> decompress(std::string_view frame, std::size_t size) {
  // The size is checked before memory is taken, so that a damaged row cannot ask for any amount.
  const unsigned long long said = ZSTD_getFrameContentSize(frame.data(), frame.size());
  if (said != size) {
    throw Error(ErrorCode::library,
                fmt::format("stored samples are damaged: {} bytes were expected in the frame", size));
  }
  std::vector<std::uint8_t> bytes(size);
  const std::size_t read = ZSTD_decompress(bytes.data(), bytes.size(), frame.data(), frame.size());
  if (ZSTD_isError(read) != 0 || read != size) {
    throw Error(ErrorCode::library, fmt::format("stored samples are damaged: {}",
                                                ZSTD_isError(read) != 0 ? ZSTD_getErrorName(read) : "too short"));
  }
  return bytes;
}

}  // namespace

std::string pack(std::span<const double> values) {
  std::vector<std::uint8_t> planes(values.size() * width);
  for (std::size_t place = 0; place < width; ++place) {
    std::uint8_t* const plane = planes.data() + place * values.size();
    for (std::size_t i = 0; i < values.size(); ++i) plane[i] = byte_of(values[i], place);
  }
  return compress(planes.data(), planes.size());
}

std::string pack_bytes(std::span<const std::uint8_t> bytes) { return compress(bytes.data(), bytes.size()); }

std::vector<double> unpack(std::string_view frame, std::size_t count) {
  const std::vector<std::uint8_t> planes = decompress(frame, count * width);
  std::vector<double> values(count);
  for (std::size_t i = 0; i < count; ++i) {
    std::uint64_t bits = 0;
    for (std::size_t place = 0; place < width; ++place) {
      bits |= static_cast<std::uint64_t>(planes[place * count + i]) << (8 * place);
    }
    values[i] = std::bit_cast<double>(bits);
  }
  return values;
}

std::vector<std::uint8_t> unpack_bytes(std::string_view frame, std::size_t count) { return decompress(frame, count); }

std::string plain(std::span<const double> values) {
  std::string bytes;
  bytes.reserve(values.size() * width);
  for (const double value : values) {
    for (std::size_t place = 0; place < width; ++place) bytes += static_cast<char>(byte_of(value, place));
  }
  return bytes;
}

std::vector<double> from_plain(std::string_view bytes) {
  if (bytes.size() % width != 0) {
    throw Error(ErrorCode::library,
                fmt::format("a stored array is damaged: {} bytes are no whole values", bytes.size()));
  }
  std::vector<double> values(bytes.size() / width);
  for (std::size_t i = 0; i < values.size(); ++i) {
    std::uint64_t bits = 0;
    for (std::size_t place = 0; place < width; ++place) {
      bits |= static_cast<std::uint64_t>(static_cast<std::uint8_t>(bytes[i * width + place])) << (8 * place);
    }
    values[i] = std::bit_cast<double>(bits);
  }
  return values;
}

}  // namespace lampload::blob
