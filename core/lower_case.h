#pragma once
// Small letters for ASCII capitals; every other byte stays, so that UTF-8 does.

#include <string>
#include <string_view>

namespace lampload {

constexpr char lower_case(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

inline std::string lower_case(std::string_view text) {
  std::string lower(text);
  for (char& c : lower) c = lower_case(c);
  return lower;
}

}  // namespace lampload
