#include "core/capture/wav.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/capture/bytes.h"
#include "core/capture/packed_bytes.h"
#include "core/capture/recording.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr std::uint16_t pcm = 1;
constexpr std::uint16_t ieee_float = 3;
constexpr std::uint16_t extensible = 0xFFFE;
constexpr std::uint32_t unknown_size = 0xFFFFFFFF;
constexpr std::size_t most_sound_channels = 64;

struct Format {
  std::uint16_t tag = 0;
  std::uint16_t channels = 0;
  std::uint32_t sample_rate_hz = 0;
  std::uint16_t block_bytes = 0;
  std::uint16_t bits = 0;  // of the container of one sample

  [[nodiscard]] std::size_t sample_bytes() const { return bits / 8U; }
};

/// Empty: fine. Else what is wrong.
std::string fault_of(const Format& format) {
  const auto is_one_of = [&](std::initializer_list<int> list) {
    return std::find(list.begin(), list.end(), static_cast<int>(format.bits)) != list.end();
  };
  if (format.tag != pcm && format.tag != ieee_float) {
    return fmt::format("its samples are compressed (format tag {}), not PCM or floats", format.tag);
  }
  if (format.tag == pcm ? !is_one_of({8, 16, 24, 32}) : !is_one_of({32, 64})) {
    return fmt::format("its samples have {} bits, which WAV does not know for this format", format.bits);
  }
  if (format.channels == 0 || format.channels > most_sound_channels)
    return fmt::format("it has {} channels", format.channels);
  if (format.sample_rate_hz == 0) return "its sample rate is zero";
  if (format.block_bytes != format.channels * format.sample_bytes()) {
    return fmt::format("a row of samples takes {} bytes, while its {} channels need {}", format.block_bytes,
                       format.channels, format.channels * format.sample_bytes());
  }
  return "";
}

constexpr std::size_t most_behind_samples = 1U << 16U;

/// How many of the last bytes are no samples but parts of the file behind them: names that such parts have, each with
/// its size, up to the very end.
std::size_t bytes_of_parts_behind(std::string_view end_of_file) {
  constexpr std::array<std::string_view, 14> names = {"LIST", "INFO", "fact", "cue ", "smpl", "inst", "bext",
                                                      "iXML", "PEAK", "JUNK", "PAD ", "id3 ", "ID3 ", "afsp"};
  for (std::size_t from = 0; from + 8 <= end_of_file.size(); ++from) {
    std::size_t at = from;
    while (at + 8 <= end_of_file.size() &&
           std::find(names.begin(), names.end(), end_of_file.substr(at, 4)) != names.end()) {
      const std::uint64_t size = little_endian<std::uint32_t>(end_of_file.data() + at + 4);
      if (size > end_of_file.size() - at - 8) break;
      at += 8 + static_cast<std::size_t>(size);
      if (size % 2 != 0 && at < end_of_file.size()) ++at;
    }
    if (at == end_of_file.size()) return end_of_file.size() - from;
  }
  return 0;
}

class WavFile {
 public:
  explicit WavFile(const std::string& path) : path_(path), bytes_(path) {}

  Recording read() {
    std::array<char, 12> head{};
    require(head);
    const bool wide = std::string_view(head.data(), 4) == "RF64";
    std::optional<std::uint64_t> wide_data_bytes;
    std::optional<Format> format;
    while (true) {
      std::array<char, 8> chunk{};
      if (bytes_.read(chunk.data(), chunk.size()) < chunk.size())
        refuse(format ? "holds no samples" : "says nothing of its samples' format");
      const std::string_view name(chunk.data(), 4);
      const auto size = little_endian<std::uint32_t>(chunk.data() + 4);
      if (name == "data") {
        if (!format) refuse("says nothing of its samples' format ahead of them");
        if (wide && wide_data_bytes.value_or(0) > 0) return samples(*format, wide_data_bytes);
        // Whoever wrote it while it was being recorded could not come back to say how long it became.
        const bool open_ended = size == unknown_size || size == 0;
        return samples(*format, open_ended ? std::nullopt : std::optional<std::uint64_t>(size));
      }
      if (name == "fmt ") {
        format = read_format(size);
      } else if (name == "ds64" && size >= 24) {
        std::array<char, 24> sizes{};
        require(sizes);
        wide_data_bytes = little_endian<std::uint64_t>(sizes.data() + 8);
        skip(size - sizes.size() + size % 2);
      } else {
        skip(std::uint64_t{size} + size % 2);
      }
    }
  }

 private:
  [[noreturn]] void refuse(std::string message) const {
    throw Error(ErrorCode::input_refused, std::move(message), Place{.file = path_},
                "Save or export the recording again.");
  }

  template <std::size_t n>
  void require(std::array<char, n>& to) {
    if (bytes_.read(to.data(), n) < n) refuse("ends within the description of its samples");
  }

  void skip(std::uint64_t count) {
    std::array<char, 4096> ignored{};
    while (count > 0) {
      const auto now = static_cast<std::size_t>(std::min<std::uint64_t>(count, ignored.size()));
      if (bytes_.read(ignored.data(), now) < now) refuse("holds no samples");
      count -= now;
    }
  }

  Format read_format(std::uint32_t size) {
    if (size < 16) refuse("describes its samples in too few bytes");
    std::array<char, 16> basic{};
    require(basic);
    Format format{little_endian<std::uint16_t>(basic.data()), little_endian<std::uint16_t>(basic.data() + 2),
                  little_endian<std::uint32_t>(basic.data() + 4), little_endian<std::uint16_t>(basic.data() + 12),
                  little_endian<std::uint16_t>(basic.data() + 14)};
    std::uint64_t left = std::uint64_t{size} - basic.size() + size % 2;
    if (format.tag == extensible && left >= 24) {
      std::array<char, 24> more{};
      require(more);
      format.tag = little_endian<std::uint16_t>(more.data() + 8);  // the first bytes of the sub-format's identifier
      left -= more.size();
    }
    skip(left);
    if (const std::string fault = fault_of(format); !fault.empty()) refuse(fault);
    return format;
  }

  Recording samples(const Format& format, std::optional<std::uint64_t> data_bytes) {
    Recording recording;
    recording.sample_interval_s = 1.0 / format.sample_rate_hz;
    recording.channels.resize(format.channels);
    std::uint64_t left = data_bytes.value_or(~std::uint64_t{0});
    std::vector<char> rows(std::size_t{4096} * format.block_bytes);
    std::string end;
    while (left > 0) {
      const auto wanted = static_cast<std::size_t>(std::min<std::uint64_t>(left, rows.size()));
      const std::size_t got = bytes_.read(rows.data(), wanted);
      for (std::size_t at = 0; at + format.block_bytes <= got; at += format.block_bytes) {
        for (std::size_t c = 0; c < format.channels; ++c) {
          recording.channels[c].values.push_back(value(format, rows.data() + at + c * format.sample_bytes()));
        }
      }
      left -= got;
      if (!data_bytes) {
        end.append(rows.data(), got);
        if (end.size() > 2 * most_behind_samples) end.erase(0, end.size() - most_behind_samples);
      }
      if (got == wanted) continue;
      if (data_bytes) {
        recording.notes.push_back(
            {"truncated_file", Severity::warning,
             fmt::format("The file ends {} bytes before it should; what is there was read. Copy it again.", left)});
      }
      break;
    }
    if (!data_bytes) {
      const std::uint64_t count = (~std::uint64_t{0} - left - bytes_of_parts_behind(end)) / format.block_bytes;
      for (Recording::Channel& channel : recording.channels) channel.values.resize(static_cast<std::size_t>(count));
    }
    return recording;
  }

  static double value(const Format& format, const char* from) {
    if (format.tag == ieee_float) {
      return format.bits == 32 ? static_cast<double>(little_endian<float>(from)) : little_endian<double>(from);
    }
    switch (format.bits) {
      case 8:
        return (static_cast<double>(static_cast<unsigned char>(*from)) - 128.0) / 128.0;  // the only unsigned one
      case 16:
        return little_endian<std::int16_t>(from) / 32768.0;
      case 24: {
        const std::array<char, 4> high{'\0', from[0], from[1], from[2]};
        return little_endian<std::int32_t>(high.data()) / 2147483648.0;
      }
      default:
        return little_endian<std::int32_t>(from) / 2147483648.0;
    }
  }

  std::string path_;
  PackedBytes bytes_;
};

}  // namespace

Recognition recognise_wav(const FileStart& start) {
  const std::string_view bytes = start.bytes;
  if (bytes.size() < 12 || (!bytes.starts_with("RIFF") && !bytes.starts_with("RF64"))) return {};
  if (bytes.substr(8, 4) != "WAVE") {
    return {Recognition::Answer::unusable, 0.3, "it is another kind of RIFF file",
            "Export the waveform as WAV or as text."};
  }
  return {Recognition::Answer::readable, 1.0, fmt::format("it begins with {} and WAVE", bytes.substr(0, 4)), ""};
}

Capture read_wav(const std::string& path, const CaptureOptions& options, Channels channels) {
  Capture capture = capture_of(path, WavFile(path).read(), options, channels);
  const bool voltage = channels == Channels::current_only || options.voltage_scale != 1.0;
  const bool current = channels == Channels::voltage_only || options.current_scale != 1.0;
  if (!voltage || !current) {
    capture.notes.push_back(
        {"scale_unknown", Severity::warning,
         fmt::format("A WAV file holds fractions of full scale, and no scale was given for the {}. Give {} (volts or "
                     "amperes at full scale).",
                     voltage   ? "current"
                     : current ? "voltage"
                               : "voltage and the current",
                     voltage   ? "--current-scale"
                     : current ? "--voltage-scale"
                               : "--voltage-scale and --current-scale")});
  }
  return capture;
}

}  // namespace lampload
