#pragma once
// The configuration part of a COMTRADE record (IEEE C37.111-1991, -1999 and -2013 = IEC 60255-24).

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace lampload {

struct ComtradeConfiguration {
  enum class Data { ascii, binary, binary32, float32 };
  struct Analog {
    std::string name;
    std::string unit;
    double factor = 1.0;  ///< value = factor * stored + offset, in `unit`
    double offset = 0.0;
    double skew_s = 0.0;  ///< this channel is sampled so much after the sample's time
    double ratio = 1.0;   ///< of the transformer whose output the values are; 1: they are those ahead of it
  };
  struct Rate {
    double hz = 0.0;                ///< 0: the samples' own time stamps say when
    std::uint64_t last_sample = 0;  ///< 1-based, at this rate
  };
  int revision = 1991;  ///< year
  std::vector<Analog> analog;
  std::size_t digital_channels = 0;
  std::vector<Rate> rates;
  Data data = Data::ascii;
  double stamp_unit_s = 1e-6;  ///< of a time stamp in the data

  [[nodiscard]] std::uint64_t samples() const { return rates.empty() ? 0 : rates.back().last_sample; }
  /// Of one sample in a binary form.
  [[nodiscard]] std::size_t row_bytes() const;
};

/// Does the text begin as a configuration does? Its second line counts channels: "5,4A,1D".
bool begins_as_comtrade(std::string_view text);

/// Throws Error{input_refused} with file, line and what was expected there. first_line: of `text` in the file, 1-based.
ComtradeConfiguration read_comtrade_configuration(const std::string& file, std::string_view text,
                                                  std::size_t first_line = 1);

}  // namespace lampload
