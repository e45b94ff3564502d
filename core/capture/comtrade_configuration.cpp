#include "core/capture/comtrade_configuration.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>

#include "core/capture/quantity.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr std::size_t most_of_a_kind = 10000;  // of each kind
constexpr std::size_t most_rates = 999;

std::vector<std::string_view> cells_of(std::string_view line) {
  std::vector<std::string_view> cells;
  std::size_t from = 0;
  for (auto comma = line.find(','); comma != std::string_view::npos; comma = line.find(',', from)) {
    cells.push_back(trimmed(line.substr(from, comma - from)));
    from = comma + 1;
  }
  cells.push_back(trimmed(line.substr(from)));
  return cells;
}

template <class T>
std::optional<T> number_in(std::string_view text) {
  text = trimmed(text);
  if (text.starts_with("+-")) return std::nullopt;
  if (text.starts_with('+')) text.remove_prefix(1);
  T value{};
  const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (failure != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  if constexpr (std::is_floating_point_v<T>) {
    if (!std::isfinite(value)) return std::nullopt;
  }
  return value;
}

/// "4A" or "1D": the number in front of the letter.
std::optional<std::size_t> counted(std::string_view cell, char letter) {
  if (cell.empty() || (cell.back() != letter && cell.back() != letter - 'A' + 'a')) return std::nullopt;
  return number_in<std::size_t>(cell.substr(0, cell.size() - 1));
}

class Lines {
 public:
  Lines(const std::string& file, std::string_view text, std::size_t first_line)
      : file_(file), text_(text), next_(first_line) {}

  bool at_end() const { return from_ >= text_.size(); }

  std::vector<std::string_view> next(const char* expected) {
    if (at_end()) refuse(fmt::format("the file ends where {} was expected", expected));
    line_ = next_++;
    const auto end = std::min(text_.find('\n', from_), text_.size());
    std::string_view line = trimmed(text_.substr(from_, end - from_));
    from_ = end + 1;
    return cells_of(line);
  }

  [[noreturn]] void refuse(std::string message) const {
    throw Error(ErrorCode::input_refused, std::move(message), Place{.file = file_, .line = line_},
                "Export the record again as COMTRADE, or as plain text (CSV).");
  }

  template <class T>
  T number(const std::vector<std::string_view>& cells, std::size_t at, const char* what) const {
    if (at < cells.size()) {
      if (const auto value = number_in<T>(cells[at])) return *value;
    }
    refuse(fmt::format("{} was expected as value {} of the line, found \"{}\"", what, at + 1,
                       at < cells.size() ? std::string(cells[at].substr(0, 40)) : ""));
  }

 private:
  const std::string& file_;
  std::string_view text_;
  std::size_t from_ = 0;
  std::size_t next_;
  std::size_t line_ = 0;
};

ComtradeConfiguration::Analog analog_of(const std::vector<std::string_view>& cells, const Lines& lines) {
  if (cells.size() < 10) {
    lines.refuse(fmt::format("an analog channel has ten values or thirteen, this line has {}", cells.size()));
  }
  ComtradeConfiguration::Analog analog;
  analog.name = std::string(cells[1]);
  analog.unit = std::string(cells[4]);
  analog.factor = lines.number<double>(cells, 5, "the channel's factor");
  analog.offset = lines.number<double>(cells, 6, "the channel's offset");
  if (!cells[7].empty()) analog.skew_s = 1e-6 * lines.number<double>(cells, 7, "the channel's skew in microseconds");
  if (cells.size() >= 13) {
    const auto primary = number_in<double>(cells[10]);
    const auto secondary = number_in<double>(cells[11]);
    const bool is_secondary = cells[12] == "S" || cells[12] == "s";
    const double ratio = primary && secondary ? *primary / *secondary : 0.0;
    if (is_secondary && ratio > 0.0 && std::isfinite(ratio)) analog.ratio = ratio;
  }
  return analog;
}

ComtradeConfiguration::Data data_of(std::string_view cell, const Lines& lines) {
  const std::string kind = plain_key(cell);
  if (kind == "ascii") return ComtradeConfiguration::Data::ascii;
  if (kind == "binary") return ComtradeConfiguration::Data::binary;
  if (kind == "binary32") return ComtradeConfiguration::Data::binary32;
  if (kind == "float32") return ComtradeConfiguration::Data::float32;
  lines.refuse(fmt::format("ASCII, BINARY, BINARY32 or FLOAT32 was expected, found \"{}\"", cell.substr(0, 40)));
}

/// Digits behind the seconds of a date and time: more than six are nanoseconds, and so are the data's time stamps then
/// (C37.111-2013, 7.4.9).
bool in_nanoseconds(const std::vector<std::string_view>& date_and_time) {
  if (date_and_time.size() < 2) return false;
  const auto point = date_and_time[1].rfind('.');
  return point != std::string_view::npos && date_and_time[1].size() - point - 1 > 6;
}

}  // namespace

std::size_t ComtradeConfiguration::row_bytes() const {
  const std::size_t value_bytes = data == Data::binary ? 2 : 4;
  return 8 + value_bytes * analog.size() + 2 * ((digital_channels + 15) / 16);
}

bool begins_as_comtrade(std::string_view text) {
  const auto first = text.find('\n');
  if (first == std::string_view::npos) return false;
  const auto second = std::min(text.find('\n', first + 1), text.size());
  const auto cells = cells_of(trimmed(text.substr(first + 1, second - first - 1)));
  return cells.size() == 3 && number_in<std::size_t>(cells[0]) && counted(cells[1], 'A') && counted(cells[2], 'D');
}

ComtradeConfiguration read_comtrade_configuration(const std::string& file, std::string_view text,
                                                  std::size_t first_line) {
  Lines lines(file, text, first_line);
  ComtradeConfiguration found;
  const auto station = lines.next("the station's name");
  if (station.size() >= 3 && !station[2].empty()) found.revision = lines.number<int>(station, 2, "the revision's year");

  const auto counts = lines.next("the number of channels");
  const auto analog = counts.size() == 3 ? counted(counts[1], 'A') : std::nullopt;
  const auto digital = counts.size() == 3 ? counted(counts[2], 'D') : std::nullopt;
  if (!analog || !digital || *analog > most_of_a_kind || *digital > most_of_a_kind) {
    lines.refuse("the number of channels was expected, such as \"2,2A,0D\"");
  }
  found.digital_channels = *digital;
  for (std::size_t k = 0; k < *analog; ++k) found.analog.push_back(analog_of(lines.next("an analog channel"), lines));
  for (std::size_t k = 0; k < *digital; ++k) lines.next("a digital channel");

  lines.next("the line frequency");
  const auto rates =
      lines.number<std::size_t>(lines.next("the number of sampling rates"), 0, "the number of sampling rates");
  if (rates > most_rates) lines.refuse(fmt::format("{} sampling rates are more than a record can have", rates));
  for (std::size_t k = 0; k < std::max<std::size_t>(rates, 1); ++k) {
    const auto cells = lines.next("a sampling rate");
    ComtradeConfiguration::Rate rate{lines.number<double>(cells, 0, "a sampling rate"),
                                     lines.number<std::uint64_t>(cells, 1, "the last sample at this rate")};
    // One rate of zero is written too where the samples' own stamps count.
    if (rate.hz < 0.0 || (rates > 1 && rate.hz == 0.0)) lines.refuse("the sampling rate must be above zero");
    if (rate.last_sample < found.samples()) lines.refuse("the rates' last samples must rise");
    if (rates == 0) rate.hz = 0.0;
    found.rates.push_back(rate);
  }
  const bool nanoseconds = in_nanoseconds(lines.next("the first sample's date and time"));
  lines.next("the trigger's date and time");
  found.data = data_of(lines.next("the kind of data")[0], lines);
  double multiple = 1.0;
  if (!lines.at_end()) {
    const auto cells = lines.next("the factor of the time stamps");
    if (!cells[0].empty()) multiple = lines.number<double>(cells, 0, "the factor of the time stamps");
    if (!(multiple > 0.0)) lines.refuse("the factor of the time stamps must be above zero");
  }
  found.stamp_unit_s = multiple * (nanoseconds ? 1e-9 : 1e-6);
  return found;
}

}  // namespace lampload
