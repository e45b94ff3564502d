#include "core/capture/packed_bytes.h"

#include <zlib.h>
#include <zstd.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <string_view>
#include <utility>
#include <vector>

#include "core/error.h"

namespace lampload {
namespace {

[[noreturn]] void refuse_packed(const std::string& path, std::string message, std::string remedy) {
  throw Error(ErrorCode::input_refused, std::move(message), Place{.file = path}, std::move(remedy));
}

void require_regular_file(const std::string& path) {
  std::error_code failure;
  const auto status = std::filesystem::status(path, failure);
  if (!std::filesystem::exists(status)) refuse_packed(path, "there is no such file", "Check the name and the folder.");
  if (std::filesystem::is_directory(status))
    refuse_packed(path, "is a folder, not a file", "Name the capture file inside it.");
  if (!std::filesystem::is_regular_file(status)) {
    refuse_packed(path, "is a device or a pipe, not a regular file", "Save the capture to a file first.");
  }
}

struct CloseFile {
  void operator()(std::FILE* file) const { std::fclose(file); }
};
using File = std::unique_ptr<std::FILE, CloseFile>;

File open(const std::string& path) {
  File file(std::fopen(path.c_str(), "rb"));
  if (!file) refuse_packed(path, "cannot be opened for reading", "Check the permissions.");
  return file;
}

std::size_t read_some(const std::string& path, std::FILE* file, char* to, std::size_t size) {
  const std::size_t got = std::fread(to, 1, size, file);
  if (got < size && std::ferror(file) != 0) refuse_packed(path, "cannot be read", "Check the disk.");
  return got;
}

PackedBytes::Packing packing_of(std::string_view first) {
  if (first.starts_with("\x1F\x8B")) return PackedBytes::Packing::gzip;
  if (first.starts_with("\x28\xB5\x2F\xFD")) return PackedBytes::Packing::zstd;
  return PackedBytes::Packing::none;
}

}  // namespace

struct PackedBytes::Source {
  virtual ~Source() = default;
  /// Fewer than `size` only at the end.
  virtual std::size_t read(char* to, std::size_t size) = 0;
};

namespace {

class PlainSource final : public PackedBytes::Source {
 public:
  explicit PlainSource(const std::string& path) : path_(path), file_(open(path)) {}
  std::size_t read(char* to, std::size_t size) override { return read_some(path_, file_.get(), to, size); }

 private:
  std::string path_;
  File file_;
};

class GzipSource final : public PackedBytes::Source {
 public:
  explicit GzipSource(const std::string& path) : path_(path), file_(gzopen(path.c_str(), "rb")) {
    if (!file_) refuse_packed(path, "cannot be opened for reading", "Check the permissions.");
    gzbuffer(file_.get(), 1U << 17U);
  }

  std::size_t read(char* to, std::size_t size) override {
    std::size_t got = 0;
    while (got < size) {
      const auto wanted = static_cast<unsigned>(std::min<std::size_t>(size - got, 1U << 30U));
      const int more = gzread(file_.get(), to + got, wanted);
      int failure = Z_OK;
      const char* reason = gzerror(file_.get(), &failure);
      if (more < 0 || failure != Z_OK) {
        refuse_packed(path_,
                      std::string("is a damaged gzip file: ") + (failure == Z_BUF_ERROR ? "it ends too early" : reason),
                      "Copy or export it again.");
      }
      if (more == 0) break;
      got += static_cast<std::size_t>(more);
    }
    return got;
  }

 private:
  struct Close {
    void operator()(gzFile file) const { gzclose(file); }
  };
  std::string path_;
  std::unique_ptr<gzFile_s, Close> file_;
};

class ZstdSource final : public PackedBytes::Source {
 public:
  explicit ZstdSource(const std::string& path)
      : path_(path), file_(open(path)), stream_(ZSTD_createDStream()), packed_(ZSTD_DStreamInSize()) {
    ZSTD_initDStream(stream_.get());
  }

  std::size_t read(char* to, std::size_t size) override {
    ZSTD_outBuffer out{to, size, 0};
    while (out.pos < out.size) {
      if (in_.pos == in_.size) {
        in_ = {packed_.data(), read_some(path_, file_.get(), packed_.data(), packed_.size()), 0};
        if (in_.size == 0) {
          // The stream may still hold what did not fit before.
          const std::size_t before = out.pos;
          step(out);
          if (out.pos > before) continue;
          if (!frame_ended_)
            refuse_packed(path_, "is a damaged zstd file: it ends too early", "Copy or export it again.");
          break;
        }
      }
      step(out);
    }
    return out.pos;
  }

 private:
  void step(ZSTD_outBuffer& out) {
    if (in_.size == 0 && frame_ended_) return;
    const std::size_t left = ZSTD_decompressStream(stream_.get(), &out, &in_);
    if (ZSTD_isError(left) != 0) {
      refuse_packed(path_, std::string("is a damaged zstd file: ") + ZSTD_getErrorName(left),
                    "Copy or export it again.");
    }
    frame_ended_ = left == 0;
  }

  struct Free {
    void operator()(ZSTD_DStream* stream) const { ZSTD_freeDStream(stream); }
  };
  std::string path_;
  File file_;
  std::unique_ptr<ZSTD_DStream, Free> stream_;
  std::vector<char> packed_;
  ZSTD_inBuffer in_{nullptr, 0, 0};
  bool frame_ended_ = false;
};

}  // namespace

PackedBytes::PackedBytes(const std::string& path) : path_(path) {
  require_regular_file(path);
  file_bytes_ = std::filesystem::file_size(path);
  if (file_bytes_ == 0) refuse_packed(path, "is empty", "Export the capture again.");
  std::array<char, 4> first{};
  const std::size_t got = read_some(path, open(path).get(), first.data(), first.size());
  packing_ = packing_of({first.data(), got});
  switch (packing_) {
    case Packing::none:
      source_ = std::make_unique<PlainSource>(path);
      break;
    case Packing::gzip:
      source_ = std::make_unique<GzipSource>(path);
      break;
    case Packing::zstd:
      source_ = std::make_unique<ZstdSource>(path);
      break;
  }
}

PackedBytes::~PackedBytes() = default;
PackedBytes::PackedBytes(PackedBytes&&) noexcept = default;
PackedBytes& PackedBytes::operator=(PackedBytes&&) noexcept = default;

std::size_t PackedBytes::read(char* to, std::size_t size) {
  const std::size_t got = source_->read(to, size);
  given_ += got;
  if (packing_ != Packing::none && given_ > largest_unpacked_bytes) {
    refuse_packed(path_, "holds more than 16 GiB when it is unpacked", "Export a shorter record.");
  }
  return got;
}

}  // namespace lampload
