#include "core/capture/numpy.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <optional>
#include <utility>
#include <vector>

#include "core/capture/bytes.h"
#include "core/capture/column_names.h"
#include "core/capture/packed_bytes.h"
#include "core/capture/quantity.h"
#include "core/capture/readers.h"
#include "core/capture/recording.h"
#include "core/error.h"

namespace lampload {
namespace {

using namespace std::string_view_literals;

constexpr std::string_view magic = "\x93NUMPY";
constexpr std::size_t most_array_channels = 64;
constexpr std::size_t longest_header = 1U << 20U;
constexpr std::uint64_t most_values = std::uint64_t{1} << 31U;

/// One number, or one field of a record.
struct Field {
  std::string name;
  bool big_endian = false;
  char kind = 'f';  ///< f, i or u
  std::size_t bytes = 8;
};

struct Header {
  std::vector<Field> fields;
  bool records = false;
  bool fortran_order = false;
  std::vector<std::uint64_t> shape;
};

/// Reads the header: the text of a Python dictionary with three keys (NumPy enhancement proposal 1).
class HeaderReader {
 public:
  HeaderReader(const std::string& file, std::string_view text) : file_(file), left_(text) {}

  Header read() {
    Header header;
    bool has_type = false;
    bool has_shape = false;
    expect('{');
    while (!taken('}')) {
      const std::string key = string();
      expect(':');
      if (key == "descr") {
        read_type(header);
        has_type = true;
      } else if (key == "fortran_order") {
        header.fortran_order = truth();
      } else if (key == "shape") {
        header.shape = shape();
        has_shape = true;
      } else {
        refuse(fmt::format("its header has a key \"{}\" that the format does not know", key.substr(0, 40)));
      }
      if (!taken(',') && next() != '}') refuse("its header is damaged");
    }
    if (!has_type || !has_shape) refuse("its header does not say type and shape");
    return header;
  }

 private:
  [[noreturn]] void refuse(std::string message) const {
    throw Error(ErrorCode::input_refused, std::move(message), Place{.file = file_},
                "Save the array again with numpy.save(), as numbers.");
  }
  char next() {
    left_ = trimmed(left_);
    return left_.empty() ? '\0' : left_.front();
  }
  bool taken(char c) {
    if (next() != c) return false;
    left_.remove_prefix(1);
    return true;
  }
  void expect(char c) {
    if (!taken(c)) refuse(fmt::format("its header is damaged: '{}' was expected", c));
  }
  std::string string() {
    const char quote = next();
    if (quote != '\'' && quote != '"') refuse("its header is damaged: a name in quotes was expected");
    const auto end = left_.find(quote, 1);
    if (end == std::string_view::npos) refuse("its header is damaged: a quote has no end");
    std::string text(left_.substr(1, end - 1));
    left_.remove_prefix(end + 1);
    return text;
  }
  bool truth() {
    for (const auto& [word, value] : {std::pair{"True"sv, true}, std::pair{"False"sv, false}}) {
      if (next() == word.front() && left_.starts_with(word)) {
        left_.remove_prefix(word.size());
        return value;
      }
    }
    refuse("its header is damaged: True or False was expected");
  }
  std::vector<std::uint64_t> shape() {
    std::vector<std::uint64_t> sizes;
    expect('(');
    while (!taken(')')) {
      (void)next();
      std::uint64_t size = 0;
      const auto [end, failure] = std::from_chars(left_.data(), left_.data() + left_.size(), size);
      if (failure != std::errc{} || sizes.size() == 8) refuse("its header is damaged: a shape was expected");
      left_.remove_prefix(static_cast<std::size_t>(end - left_.data()));
      sizes.push_back(size);
      if (!taken(',') && next() != ')') refuse("its header is damaged: a shape was expected");
    }
    return sizes;
  }
  Field field(std::string name) {
    const std::string type = string();
    Field found{.name = std::move(name)};
    std::string_view code = type;
    if (!code.empty() && (code.front() == '<' || code.front() == '>' || code.front() == '|' || code.front() == '=')) {
      found.big_endian = code.front() == '>';
      code.remove_prefix(1);
    }
    std::size_t bytes = 0;
    if (code.size() == 2 && code[1] >= '0' && code[1] <= '9') bytes = static_cast<std::size_t>(code[1] - '0');
    found.kind = code.empty() ? '\0' : code.front();
    found.bytes = bytes;
    const bool real = found.kind == 'f' && (bytes == 4 || bytes == 8);
    const bool whole =
        (found.kind == 'i' || found.kind == 'u') && (bytes == 1 || bytes == 2 || bytes == 4 || bytes == 8);
    if (!real && !whole) {
      refuse(fmt::format("its values are of the type \"{}\"; floats of 4 or 8 bytes and whole numbers are read",
                         type.substr(0, 40)));
    }
    return found;
  }
  void read_type(Header& header) {
    if (!taken('[')) {
      header.fields.push_back(field(""));
      return;
    }
    header.records = true;
    while (!taken(']')) {
      expect('(');
      std::string name = string();
      expect(',');
      header.fields.push_back(field(std::move(name)));
      (void)taken(',');
      expect(')');
      if (header.fields.size() > most_array_channels) refuse("its records have more than 64 fields");
      if (!taken(',') && next() != ']') refuse("its header is damaged: a list of fields was expected");
    }
    if (header.fields.empty()) refuse("its records have no fields");
  }

  const std::string& file_;
  std::string_view left_;
};

template <class T>
double number(const char* from, bool big_endian) {
  std::array<char, sizeof(T)> bytes;
  std::copy_n(from, sizeof(T), bytes.data());
  if (big_endian) std::reverse(bytes.begin(), bytes.end());
  return static_cast<double>(little_endian<T>(bytes.data()));
}

double value_of(const Field& field, const char* from) {
  const bool big = field.big_endian;
  switch (field.kind) {
    case 'f':
      return field.bytes == 4 ? number<float>(from, big) : number<double>(from, big);
    case 'i':
      return field.bytes == 1   ? number<std::int8_t>(from, big)
             : field.bytes == 2 ? number<std::int16_t>(from, big)
             : field.bytes == 4 ? number<std::int32_t>(from, big)
                                : number<std::int64_t>(from, big);
    default:
      return field.bytes == 1   ? number<std::uint8_t>(from, big)
             : field.bytes == 2 ? number<std::uint16_t>(from, big)
             : field.bytes == 4 ? number<std::uint32_t>(from, big)
                                : number<std::uint64_t>(from, big);
  }
}

/// The header in UTF-8: of versions 1 and 2 it is Latin-1, of version 3 UTF-8 (NumPy enhancement proposal 1).
std::string in_utf8(std::string text, unsigned version) {
  if (version >= 3) return text;
  std::string utf8;
  for (const char letter : text) {
    const auto code = static_cast<unsigned char>(letter);
    if (code >= 0x80) utf8 += static_cast<char>(0xC0U | (code >> 6U));
    utf8 += code >= 0x80 ? static_cast<char>(0x80U | (code & 0x3FU)) : letter;
  }
  return utf8;
}

/// How many channels of how many samples, and where a value stands.
struct Arrangement {
  std::uint64_t channels = 0;
  std::uint64_t samples = 0;
  bool channels_together = true;  ///< all values of one instant stand together
};

Arrangement arrangement_of(const std::string& file, const Header& header) {
  const auto refuse = [&](std::string message) {
    throw Error(ErrorCode::input_refused, std::move(message), Place{.file = file},
                "Save one array of samples in rows, with a column for each of time, voltage and current.");
  };
  const std::vector<std::uint64_t>& shape = header.shape;
  for (const std::uint64_t size : shape) {
    if (size > most_values) refuse("it says that it holds more values than a capture can have");
  }
  Arrangement found;
  if (header.records) {
    if (shape.size() != 1) refuse(fmt::format("its records stand in {} dimensions, one was expected", shape.size()));
    return {header.fields.size(), shape[0], true};
  }
  if (shape.size() == 1) return {1, shape[0], true};
  if (shape.size() != 2) {
    refuse(fmt::format("it has {} dimensions; one (one channel) or two (rows of samples) were expected", shape.size()));
  }
  // The longer way is time.
  const bool samples_first = shape[0] >= shape[1];
  found.samples = samples_first ? shape[0] : shape[1];
  found.channels = samples_first ? shape[1] : shape[0];
  found.channels_together = samples_first != header.fortran_order;
  if (found.channels > most_array_channels || found.channels * found.samples > most_values) {
    refuse(fmt::format("{} channels of {} samples are more than a capture has", found.channels, found.samples));
  }
  return found;
}

class NumpyFile {
 public:
  explicit NumpyFile(const std::string& path) : path_(path), bytes_(path) {}

  Recording read() {
    std::array<char, 8> start{};
    require(start.data(), start.size());
    const auto version = static_cast<unsigned char>(start[6]);
    if (version < 1 || version > 3) {
      throw Error(ErrorCode::input_refused, fmt::format("version {} of the array format is not known", version),
                  Place{.file = path_}, "Save the array again with numpy.save().");
    }
    std::array<char, 4> size{};
    require(size.data(), version == 1 ? 2 : 4);
    const std::size_t length =
        version == 1 ? little_endian<std::uint16_t>(size.data()) : little_endian<std::uint32_t>(size.data());
    if (length > longest_header) cut_short();
    std::string text(length, '\0');
    require(text.data(), text.size());
    text = in_utf8(std::move(text), version);
    const Header header = HeaderReader(path_, text).read();
    return values(header, arrangement_of(path_, header));
  }

 private:
  [[noreturn]] void cut_short() const {
    throw Error(ErrorCode::input_refused, "ends within the description of its values", Place{.file = path_},
                "Copy or save it again.");
  }
  void require(char* to, std::size_t count) {
    if (bytes_.read(to, count) < count) cut_short();
  }

  Recording values(const Header& header, const Arrangement& arrangement) {
    Recording recording;
    recording.channels.resize(static_cast<std::size_t>(arrangement.channels));
    for (std::size_t c = 0; header.records && c < header.fields.size(); ++c) {
      recording.channels[c].name = header.fields[c].name;
      recording.channels[c].unit = column_meaning(header.fields[c].name, std::nullopt);
    }
    const auto outer = arrangement.channels_together ? arrangement.samples : arrangement.channels;
    const auto inner = arrangement.channels_together ? arrangement.channels : arrangement.samples;
    std::array<char, 8> bytes{};
    for (std::uint64_t o = 0; o < outer; ++o) {
      for (std::uint64_t i = 0; i < inner; ++i) {
        const auto channel = static_cast<std::size_t>(arrangement.channels_together ? i : o);
        const Field& field = header.fields[header.records ? channel : 0];
        if (bytes_.read(bytes.data(), field.bytes) < field.bytes) {
          keep_what_is_whole(arrangement, recording);
          return recording;
        }
        recording.channels[channel].values.push_back(value_of(field, bytes.data()));
      }
    }
    return recording;
  }

  /// Of an array that ends early the samples that all channels have.
  void keep_what_is_whole(const Arrangement& arrangement, Recording& recording) const {
    std::size_t whole = recording.channels.front().values.size();
    for (const Recording::Channel& channel : recording.channels) whole = std::min(whole, channel.values.size());
    if (whole < fewest_samples) {
      throw Error(ErrorCode::input_refused,
                  fmt::format("ends early: it promises {} values of {} channels, of which {} are there of every one",
                              arrangement.samples, arrangement.channels, whole),
                  Place{.file = path_}, "Copy or save it again.");
    }
    for (Recording::Channel& channel : recording.channels) channel.values.resize(whole);
    recording.notes.push_back(
        {"truncated_file", Severity::warning,
         fmt::format("The file promises {} samples and holds {}; what is there was read. Copy it again.",
                     arrangement.samples, whole)});
  }

  std::string path_;
  PackedBytes bytes_;
};

}  // namespace

Recognition recognise_numpy(const FileStart& start) {
  if (!start.bytes.starts_with(magic)) return {};
  return {Recognition::Answer::readable, 1.0, "it begins as NumPy arrays do", ""};
}

Capture read_numpy(const std::string& path, const CaptureOptions& options, Channels channels) {
  return capture_of(path, NumpyFile(path).read(), options, channels);
}

}  // namespace lampload
