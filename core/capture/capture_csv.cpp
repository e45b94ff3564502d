#include "core/capture/capture_csv.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <string_view>

namespace lampload {
namespace {

void append(std::string& text, double value) {
  std::array<char, 32> digits;
  const auto [end, failure] = std::to_chars(digits.data(), digits.data() + digits.size(), value);
  text.append(digits.data(), end);  // 24 characters at most
}

}  // namespace

std::string capture_csv(const Capture& capture, const std::string& comments) {
  std::string text;
  for (std::size_t from = 0; from < comments.size();) {
    const std::size_t end = std::min(comments.find('\n', from), comments.size());
    text.append("# ").append(comments, from, end - from).append("\n");
    from = end + 1;
  }
  text += "# start time: ";
  append(text, capture.start_time_s);
  text += " s\n# sample interval: ";
  append(text, capture.sample_interval_s);
  text += " s\ntime_s,voltage_v,current_a\n";
  text.reserve(text.size() + 40 * capture.samples());
  for (std::size_t k = 0; k < capture.samples(); ++k) {
    append(text, capture.start_time_s + static_cast<double>(k) * capture.sample_interval_s);
    text += ',';
    append(text, capture.voltage_v[k]);
    text += ',';
    append(text, capture.current_a[k]);
    text += '\n';
  }
  return text;
}

}  // namespace lampload
