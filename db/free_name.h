#pragma once
// A name beside one that is taken.

#include <fmt/format.h>

#include <string>

namespace lampload {

/// Names of lamps, channels and keys are no longer [bytes].
inline constexpr std::size_t longest_name = 200;

/// "x (mark)", "x (mark, 2)", ...: the first that `taken` does not know, shortened in front of the mark where it must
/// be.
template <class Taken>
std::string free_name(const std::string& name, const std::string& mark, Taken taken) {
  for (int i = 1;; ++i) {
    const std::string end = i == 1 ? fmt::format(" ({})", mark) : fmt::format(" ({}, {})", mark, i);
    std::string start = name.substr(0, longest_name - end.size());
    // Not in the middle of a character.
    while (start.size() < name.size() && (static_cast<unsigned char>(name[start.size()]) & 0xC0U) == 0x80U) {
      start.pop_back();
    }
    if (!taken(start + end)) return start + end;
  }
}

}  // namespace lampload
