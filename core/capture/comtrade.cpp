#include "core/capture/comtrade.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <limits>
#include <optional>
#include <utility>

#include "core/capture/bytes.h"
#include "core/capture/column_names.h"
#include "core/capture/comtrade_configuration.h"
#include "core/capture/lost_samples.h"
#include "core/capture/packed_bytes.h"
#include "core/capture/plain_rows.h"
#include "core/capture/quantity.h"
#include "core/capture/recording.h"
#include "core/capture/units.h"
#include "core/error.h"
#include "core/lower_case.h"

namespace lampload {
namespace {

using Data = ComtradeConfiguration::Data;

constexpr std::string_view section_mark = "--- file type:";
constexpr std::size_t largest_file = std::size_t{2} << 30U;
constexpr double missing_in_text = 99999.0;  // C37.111-1999, 8.4

/// A file's name without what packing adds to it: "x" and ".dat" of "x.DAT.gz".
struct RecordName {
  std::string stem;
  std::string extension;  ///< in lower case
  bool packed = false;
};

RecordName record_name(const std::filesystem::path& path) {
  std::filesystem::path name = path.filename();
  const std::string last = lower_case(name.extension().string());
  const bool packed = last == ".gz" || last == ".zst";
  if (packed) name = name.stem();
  return {name.stem().string(), lower_case(name.extension().string()), packed};
}

/// The file beside `path` with another extension, in whatever case, packed or not.
std::optional<std::string> beside(const std::string& path, const std::string& extension) {
  const std::filesystem::path place(path);
  const RecordName wanted = record_name(place);
  std::error_code failure;
  const auto folder = place.has_parent_path() ? place.parent_path() : std::filesystem::path(".");
  std::optional<std::pair<bool, std::string>> found;  // as it is rather than packed, whatever order the folder is in
  for (const auto& entry : std::filesystem::directory_iterator(folder, failure)) {
    const RecordName other = record_name(entry.path());
    if (other.stem != wanted.stem || other.extension != extension) continue;
    std::pair candidate{other.packed, (place.parent_path() / entry.path().filename()).string()};
    if (!found || candidate < *found) found = std::move(candidate);
  }
  if (!found) return std::nullopt;
  return found->second;
}

std::string first_bytes(const std::string& path, std::size_t count) {
  std::string bytes(count, '\0');
  bytes.resize(PackedBytes(path).read(bytes.data(), bytes.size()));
  return bytes;
}

/// A record in one file: told by its beginning, under its own extension by a title near it too.
bool is_single_file(const std::string& path, std::string_view bytes) {
  std::string_view text = bytes.substr(0, 200);
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  const std::string beginning = lower_case(trimmed(text));
  return beginning.starts_with(section_mark) ||
         (record_name(path).extension == ".cff" && beginning.find(section_mark) != std::string::npos);
}

std::string whole(const std::string& path) {
  PackedBytes file(path);
  std::string text;
  std::size_t got = 0;
  do {
    const std::size_t before = text.size();
    text.resize(before + (std::size_t{1} << 20U));
    got = file.read(text.data() + before, text.size() - before);
    text.resize(before + got);
    if (text.size() > largest_file) {
      throw Error(ErrorCode::input_refused, "is larger than 2 GiB", Place{.file = path}, "Export a shorter record.");
    }
  } while (got == (std::size_t{1} << 20U));
  return text;
}

/// Where a record's two parts stand.
struct Parts {
  std::string configuration_file;
  std::string configuration;
  std::size_t configuration_line = 1;
  std::string data_file;
  std::string data;
  std::size_t data_line = 1;
};

Parts parts_of_single_file(const std::string& path) {
  const std::string all = whole(path);
  Parts parts{path, "", 1, path, "", 1};
  for (auto mark = all.find(section_mark); mark != std::string::npos; mark = all.find(section_mark, mark + 1)) {
    const auto line_end = std::min(all.find('\n', mark), all.size());
    const std::string title = lower_case(std::string(trimmed(std::string_view(all).substr(mark, line_end - mark))));
    const auto from = std::min(line_end + 1, all.size());
    const auto line =
        static_cast<std::size_t>(std::count(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(from), '\n')) + 1;
    const bool is_data = title.find("dat") != std::string::npos;
    if (is_data) {  // the last part, and what is in it may look like anything
      parts.data = all.substr(from);
      parts.data_line = line;
      break;
    }
    if (title.find("cfg") != std::string::npos) {
      const auto end = std::min(all.find(section_mark, from), all.size());
      parts.configuration = all.substr(from, end - from);
      parts.configuration_line = line;
    }
  }
  const auto refuse = [&](const char* what) {
    throw Error(ErrorCode::input_refused, fmt::format("the single-file record has no part with its {}", what),
                Place{.file = path}, "Export the record again as COMTRADE, or as plain text (CSV).");
  };
  if (trimmed(parts.configuration).empty()) refuse("configuration (--- file type: CFG ---)");
  if (parts.data.empty()) refuse("data (--- file type: DAT ... ---)");
  return parts;
}

Parts parts_of(const std::string& path) {
  if (is_single_file(path, first_bytes(path, 200))) return parts_of_single_file(path);
  const bool is_data = record_name(path).extension == ".dat";
  const auto other = beside(path, is_data ? ".cfg" : ".dat");
  if (!other) {
    throw Error(ErrorCode::input_refused, "the record's data file (same name, .dat) is not beside it",
                Place{.file = path}, "Copy both files of the record into one folder.");
  }
  const std::string configuration = is_data ? *other : path;
  const std::string data = is_data ? path : *other;
  return {configuration, whole(configuration), 1, data, whole(data), 1};
}

/// Samples as they are stored; a NaN stands for one that is missing.
struct StoredRows {
  std::vector<double> stamps;               ///< as stored
  std::vector<std::vector<double>> values;  ///< one list a channel
};

void read_text_rows(const Parts& parts, const ComtradeConfiguration& configuration, StoredRows& rows,
                    std::vector<QualityNote>& notes) {
  const std::size_t channels = configuration.analog.size();
  std::string_view left = parts.data;
  for (std::size_t line = parts.data_line; !left.empty(); ++line) {
    const auto end = std::min(left.find('\n'), left.size());
    std::string_view row = trimmed(left.substr(0, end));
    left.remove_prefix(std::min(end + 1, left.size()));
    if (row.empty() || row == "\x1A") continue;
    if (const auto cells = static_cast<std::size_t>(std::count(row.begin(), row.end(), ',')) + 1;
        cells < channels + 2) {
      if (left.empty()) {
        notes.push_back({"truncated_last_line", Severity::note,
                         fmt::format("Line {}, the last one, is cut short and was left out.", line)});
        return;
      }
      throw Error(ErrorCode::input_refused,
                  fmt::format("the line has {} values, fewer than the {} of a sample", cells, channels + 2),
                  Place{.file = parts.data_file, .line = line}, "Correct or remove the line.");
    }
    for (std::size_t cell = 0; cell < channels + 2; ++cell) {
      const auto comma = std::min(row.find(','), row.size());
      const Cell value = parse_cell(row.substr(0, comma), '.');
      const bool missing = value.kind == CellKind::empty || (cell >= 2 && value.value == missing_in_text);
      const bool no_value = value.kind == CellKind::overload && cell < 2;
      if (value.kind == CellKind::text || no_value || (cell == 0 && missing)) {
        throw Error(ErrorCode::input_refused,
                    fmt::format("a number was expected as value {} of the line, found \"{}\"", cell + 1,
                                row.substr(0, std::min<std::size_t>(comma, 40))),
                    Place{.file = parts.data_file, .line = line}, "Correct or remove the line.");
      }
      const bool is_word = value.kind == CellKind::overload && std::abs(value.value) < largest_plain;
      const double number = missing || is_word ? std::numeric_limits<double>::quiet_NaN() : value.value;
      if (cell == 1) rows.stamps.push_back(number);
      if (cell >= 2) rows.values[cell - 2].push_back(number);
      row.remove_prefix(std::min(comma + 1, row.size()));
    }
  }
}

double stored_value(Data data, const char* from) {
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  if (data == Data::float32) return static_cast<double>(little_endian<float>(from));
  if (data == Data::binary) {
    const auto value = little_endian<std::int16_t>(from);
    return value == std::numeric_limits<std::int16_t>::min() ? none : value;
  }
  const auto value = little_endian<std::int32_t>(from);
  return value == std::numeric_limits<std::int32_t>::min() ? none : value;
}

void read_binary_rows(const Parts& parts, const ComtradeConfiguration& configuration, StoredRows& rows) {
  constexpr std::uint32_t no_stamp = 0xFFFFFFFF;
  const std::size_t row_bytes = configuration.row_bytes();
  const std::size_t value_bytes = configuration.data == Data::binary ? 2 : 4;
  std::size_t count = parts.data.size() / row_bytes;
  if (configuration.samples() > 0) count = std::min<std::size_t>(count, configuration.samples());
  for (std::size_t k = 0; k < count; ++k) {
    const char* row = parts.data.data() + k * row_bytes;
    const auto stamp = little_endian<std::uint32_t>(row + 4);
    rows.stamps.push_back(stamp == no_stamp ? std::numeric_limits<double>::quiet_NaN() : static_cast<double>(stamp));
    for (std::size_t c = 0; c < rows.values.size(); ++c) {
      rows.values[c].push_back(stored_value(configuration.data, row + 8 + c * value_bytes));
    }
  }
}

/// One instant a sample: by the rate; by the stamps where there is none, or several, between which nobody says whose
/// the interval is.
void set_time(const std::string& file, const ComtradeConfiguration& configuration, const std::vector<double>& stamps,
              const CaptureOptions& options, Recording& recording) {
  if (options.sample_interval_s) return;
  const std::size_t count = stamps.size();
  if (configuration.rates.size() == 1 && configuration.rates[0].hz > 0.0) {
    recording.sample_interval_s = 1.0 / configuration.rates[0].hz;
    return;
  }
  double time = 0.0;
  std::size_t rate = 0;
  const bool stamped = configuration.rates[0].hz == 0.0 ||
                       std::all_of(stamps.begin(), stamps.end(), [](double stamp) { return std::isfinite(stamp); });
  for (std::size_t k = 0; k < count; ++k) {
    if (stamped) {
      if (!std::isfinite(stamps[k])) {
        throw Error(ErrorCode::input_refused,
                    fmt::format("sample {} has no time stamp, and there is no sampling rate", k + 1),
                    Place{.file = file}, "Give --sample-interval, in seconds.");
      }
      recording.time_s.push_back(stamps[k] * configuration.stamp_unit_s);
      continue;
    }
    while (rate + 1 < configuration.rates.size() && k >= configuration.rates[rate].last_sample) ++rate;
    if (k > 0) time += 1.0 / configuration.rates[rate].hz;
    recording.time_s.push_back(time);
  }
}

}  // namespace

Recognition recognise_comtrade(const FileStart& start) {
  if (is_single_file(start.path, start.bytes)) {
    return {Recognition::Answer::readable, 1.0, "it holds the parts of a COMTRADE record, each under its title", ""};
  }
  if (record_name(start.path).extension == ".dat") {
    const auto configuration = beside(start.path, ".cfg");
    if (!configuration || !begins_as_comtrade(first_bytes(*configuration, 4096))) return {};
    return {Recognition::Answer::readable, 0.95, "a COMTRADE configuration of the same name stands beside it", ""};
  }
  if (!begins_as_comtrade(start.bytes)) return {};
  if (!beside(start.path, ".dat")) {
    return {Recognition::Answer::unusable, 0.95, "its data file (same name, .dat) is not beside it",
            "Copy both files of the record into one folder."};
  }
  return {Recognition::Answer::readable, 0.95, "its second line counts analog and digital channels", ""};
}

Capture read_comtrade(const std::string& path, const CaptureOptions& options, Channels channels) {
  const Parts parts = parts_of(path);
  const ComtradeConfiguration configuration =
      read_comtrade_configuration(parts.configuration_file, parts.configuration, parts.configuration_line);
  if (configuration.analog.empty()) {
    throw Error(ErrorCode::input_refused, "the record has no analog channels", Place{.file = parts.configuration_file},
                "Export voltage and current.");
  }
  Recording recording;
  StoredRows rows;
  rows.values.resize(configuration.analog.size());
  if (configuration.data == Data::ascii) {
    read_text_rows(parts, configuration, rows, recording.notes);
  } else {
    read_binary_rows(parts, configuration, rows);
  }
  if (rows.stamps.size() < configuration.samples()) {
    recording.notes.push_back(
        {"truncated_file", Severity::warning,
         fmt::format("The configuration promises {} samples, the data hold {}; what is there was read.",
                     configuration.samples(), rows.stamps.size())});
  }
  set_time(parts.data_file, configuration, rows.stamps, options, recording);
  for (std::size_t c = 0; c < configuration.analog.size(); ++c) {
    const ComtradeConfiguration::Analog& analog = configuration.analog[c];
    Recording::Channel channel;
    channel.name = analog.name;
    channel.unit = column_meaning(analog.name, parse_unit(analog.unit));
    channel.values = std::move(rows.values[c]);
    channel.skew_s = analog.skew_s;
    channel.ratio = analog.ratio;
    for (std::size_t k = 0; k < channel.values.size(); ++k) {
      double& value = channel.values[k];
      if (!(std::abs(value) < largest_plain)) {
        channel.beyond_range.push_back(k);
        value = lost_sample(value);
      }
      value = analog.factor * value + analog.offset;
    }
    recording.channels.push_back(std::move(channel));
  }
  return capture_of(path, std::move(recording), options, channels);
}

}  // namespace lampload
