#pragma once
// Which known names a mistyped one may have meant.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace lampload {

/// How far known names are from an asked one, without regard to ASCII case.
class NearTo {
 public:
  explicit NearTo(std::string_view asked);
  /// By edit distance; a name that contains the asked one is at 1. Empty: too far away to be meant.
  [[nodiscard]] std::optional<std::size_t> distance(std::string_view known);

 private:
  std::string wanted_;
  std::uint64_t wanted_letters_ = 0;  ///< a bit for each that occurs
  std::string candidate_;
  std::size_t furthest_;
  std::vector<std::size_t> row_;
};

/// Keeps the names nearest to an asked one, of those it is shown.
class Nearest {
 public:
  explicit Nearest(std::string_view asked) : near_(asked) {}
  void look_at(std::string_view known);
  /// Up to `most`, nearest first, of the same distance by name.
  [[nodiscard]] std::vector<std::string> names(std::size_t most) const;

 private:
  NearTo near_;
  std::vector<std::pair<std::size_t, std::string>> found_;
};

/// Up to `most` known names, nearest first; names too far away to be meant are left out.
std::vector<std::string> nearest_names(std::string_view asked, std::span<const std::string> known,
                                       std::size_t most = 3);

/// "the nearest are 'a', 'b'", or, where nothing is near, "there are 'x', 'y', ..." or `none` for an empty list.
std::string nearest_sentence(std::string_view asked, std::span<const std::string> known, std::string_view none);

}  // namespace lampload
