#include "core/lamp/label.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "core/lower_case.h"

namespace lampload {
namespace {

constexpr std::size_t longest_base = 30;

bool digit(char c) { return c >= '0' && c <= '9'; }
bool capital(char c) { return c >= 'A' && c <= 'Z'; }
bool small(char c) { return c >= 'a' && c <= 'z'; }

/// Takes what `holds` off the front; how many there were.
template <class Holds>
std::size_t take(std::string_view& text, Holds holds) {
  const auto end = std::find_if_not(text.begin(), text.end(), holds);
  const auto count = static_cast<std::size_t>(end - text.begin());
  text.remove_prefix(count);
  return count;
}

/// "27", "5.3".
bool take_dimension(std::string_view& text) {
  if (const std::size_t whole = take(text, digit); whole == 0 || whole > 3) return false;
  if (!text.starts_with('.')) return true;
  text.remove_prefix(1);
  return take(text, digit) > 0;
}

bool has_form(std::string_view text) {
  if (text.size() > longest_base) return false;
  if (take(text, digit) > 1) return false;
  if (const std::size_t letters = take(text, capital); letters == 0 || letters > 4) return false;
  if (take(text, small) > 1) return false;  // Fa8
  if (!take_dimension(text)) return false;
  while (text.starts_with('x')) {  // W2.1x9.5d
    text.remove_prefix(1);
    if (!take_dimension(text)) return false;
  }
  if (take(text, [](char c) { return std::string_view("sdtqp").find(c) != std::string_view::npos; }) > 1) return false;
  // What stands behind distinguishes variants: -3, /27, /25x26.
  while (text.starts_with('-') || text.starts_with('/')) {
    text.remove_prefix(1);
    if (take(text, [](char c) { return digit(c) || capital(c) || small(c) || c == '.'; }) == 0) return false;
  }
  return text.empty();
}

/// Letters before the dimension large, behind it small, no blanks.
std::string usual_case(std::string_view text) {
  std::string usual;
  bool dimension = false;
  bool letters = false;
  for (const char c : text) {
    if (c == ' ') continue;
    dimension = dimension || (letters && digit(c));
    letters = letters || capital(c) || small(c);
    if (dimension) {
      usual += lower_case(c);
    } else if (!dimension && small(c)) {
      usual += static_cast<char>(c - 'a' + 'A');
    } else {
      usual += c;
    }
  }
  return usual;
}

}  // namespace

std::string fault_of_base(std::string_view text) {
  if (text == no_base || has_form(text)) return "";
  const std::string usual = usual_case(text);
  return fmt::format("'{}' is no lamp base as IEC 60061 writes them, such as E27, GU10, B22d, G5.3 or R7s{}", text,
                     has_form(usual) ? fmt::format("; '{}' may be meant", usual)
                                     : std::string("; a lamp on wires or terminals has 'none'"));
}

std::string fault_of_technology(std::string_view text) {
  const auto is_known = [](std::string_view word) {
    return std::find(technologies.begin(), technologies.end(), word) != technologies.end();
  };
  if (is_known(text)) return "";
  const std::string lower = lower_case(text);
  return fmt::format(
      "'{}' is no technology; {}", text,
      is_known(lower) ? fmt::format("'{}' may be meant", lower) : fmt::format("known are {}", technologies_in_words()));
}

std::string technologies_in_words() { return fmt::format("{}", fmt::join(technologies, ", ")); }

}  // namespace lampload
