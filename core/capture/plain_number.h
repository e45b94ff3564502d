#pragma once
// Decimal numbers as nearly all of a capture's text consists of, read fast and rounded exactly.

#include <array>
#include <charconv>
#include <cstddef>
#include <cstdint>
#include <system_error>

namespace lampload {

/// Reads the number at `at`, with an optional sign, fraction and exponent. What is behind it; nullptr where there is no
/// number, or one that takes more care. The nearest double, as std::from_chars gives it: digits up to 2^53 and powers
/// of ten up to 10^22 are doubles themselves, so one multiplication or division rounds once (Clinger 1990); other
/// numbers are left to std::from_chars.
inline const char* read_plain_number(const char* at, const char* end, char decimal, double& value) {
  static constexpr std::array<double, 23> powers{1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                                 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
  constexpr std::uint64_t largest_exact = std::uint64_t{1} << 53U;
  const auto digit_at = [&](const char* p) { return static_cast<unsigned>(*p) - static_cast<unsigned>('0'); };
  const char* p = at;
  const bool negative = p < end && *p == '-';
  if (p < end && (*p == '-' || *p == '+')) ++p;
  const char* const from = p;
  std::uint64_t digits = 0;
  for (; p < end && digit_at(p) < 10; ++p) digits = 10 * digits + digit_at(p);
  std::ptrdiff_t count = p - from;
  int exponent = 0;
  if (p < end && *p == decimal) {
    const char* const fraction = ++p;
    for (; p < end && digit_at(p) < 10; ++p) digits = 10 * digits + digit_at(p);
    count += p - fraction;
    exponent = -static_cast<int>(p - fraction < 1000 ? p - fraction : 1000);
  }
  if (count == 0) return nullptr;
  if (p < end && (*p == 'e' || *p == 'E')) {
    ++p;
    const bool below = p < end && *p == '-';
    if (p < end && (*p == '-' || *p == '+')) ++p;
    const char* const power = p;
    int read = 0;
    for (; p < end && digit_at(p) < 10; ++p) read = read < 10000 ? 10 * read + static_cast<int>(digit_at(p)) : read;
    if (p == power) return nullptr;
    exponent += below ? -read : read;
  }
  if (count > 19 || digits > largest_exact || exponent < -22 || exponent > 22) {
    if (decimal != '.') return nullptr;
    const char* const signed_from = *at == '+' ? at + 1 : at;
    const auto [behind, failure] = std::from_chars(signed_from, p, value);
    return failure == std::errc{} && behind == p ? p : nullptr;
  }
  const auto whole = static_cast<double>(digits);
  const double size = exponent < 0 ? whole / powers[static_cast<std::size_t>(-exponent)]
                                   : whole * powers[static_cast<std::size_t>(exponent)];
  value = negative ? -size : size;
  return p;
}

}  // namespace lampload
