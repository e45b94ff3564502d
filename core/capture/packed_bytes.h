#pragma once
// The bytes of a file, unpacked where it is compressed: what it is shows in its first bytes, never in its name.

#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>

namespace lampload {

/// Streams a regular file, or what a gzip (RFC 1952) or zstd (RFC 8878) file holds; memory does not grow with the file.
/// Throws Error{input_refused} for what is not a readable, non-empty regular file, and for a packed one that is
/// damaged, ends too early or holds more than largest_unpacked_bytes.
class PackedBytes {
 public:
  enum class Packing { none, gzip, zstd };
  static constexpr std::uintmax_t largest_unpacked_bytes = std::uintmax_t{16} << 30U;

  explicit PackedBytes(const std::string& path);
  ~PackedBytes();
  PackedBytes(PackedBytes&&) noexcept;
  PackedBytes& operator=(PackedBytes&&) noexcept;

  /// Fills `to` with up to `size` bytes; fewer only at the end of the file.
  std::size_t read(char* to, std::size_t size);
  [[nodiscard]] Packing packing() const { return packing_; }
  /// Of the file as it lies on the disk.
  [[nodiscard]] std::uintmax_t file_bytes() const { return file_bytes_; }

  struct Source;

 private:
  std::string path_;
  std::uintmax_t file_bytes_ = 0;
  std::uintmax_t given_ = 0;
  Packing packing_ = Packing::none;
  std::unique_ptr<Source> source_;
};

}  // namespace lampload
