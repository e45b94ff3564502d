#pragma once
// Which known names a mistyped one may have meant.

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace lampload {

/// Without regard to ASCII case.
constexpr char folded(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

/// How far known names are from an asked one, without regard to ASCII case.
class NearTo {
 public:
  explicit NearTo(std::string_view asked);
  /// By edit distance; a name that contains the asked one is at 1. Empty: too far away to be meant.
  [[nodiscard]] std::optional<std::size_t> distance(std::string_view known);

 private:
  std::string wanted_;
  std::string candidate_;
  std::size_t furthest_;
  std::vector<std::size_t> row_;
};

/// Up to `most` known names, nearest first; names too far away to be meant are left out.
std::vector<std::string> nearest_names(std::string_view asked, std::span<const std::string> known,
                                       std::size_t most = 3);

/// "the nearest are 'a', 'b'", or, where nothing is near, "there are 'x', 'y', ..." or `none` for an empty list.
std::string nearest_sentence(std::string_view asked, std::span<const std::string> known, std::string_view none);

}  // namespace lampload
