#include "db/lamp_file_shape.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

#include "core/unicode.h"
#include "db/signature.h"

namespace lampload::lamp_keys {
namespace {

using json::Json;
using json::Object;

constexpr std::size_t longest_name = 200;
constexpr std::size_t longest_line = 500;
constexpr std::size_t longest_prose = 10'000;

std::string fault_of(std::string_view text, bool lines) {
  while (!text.empty()) {
    const auto [length, point] = first_character(text);
    const bool blank = lines && (point == '\n' || point == '\t');
    if (length == 0 || (is_control(point) && !blank)) return "must not hold control characters";
    if (changes_direction(point)) return "must not hold characters that change the direction of writing";
    text.remove_prefix(length);
  }
  return "";
}

/// Names are told apart by their looks.
std::string fault_of_name(std::string_view text) {
  if (std::string fault = fault_of(text, false); !fault.empty()) return fault;
  bool first = true;
  while (!text.empty()) {
    const auto [length, point] = first_character(text);
    if (is_unseen(point)) return "must not hold characters that are not seen";
    text.remove_prefix(length);
    if (is_space(point) && (first || text.empty())) return "must not begin or end with a blank";
    first = false;
  }
  return "";
}

void check_text(const Object& object, const Key& key, std::size_t least, std::size_t longest, bool lines) {
  const std::string text = object.text(key.name);
  if (text.size() < least || text.size() > longest) {
    object.refuse(key.name, fmt::format("must have {} to {} bytes, this has {}", least, longest, text.size()));
  }
  const std::string fault = key.kind == Kind::name ? fault_of_name(text) : fault_of(text, lines);
  if (!fault.empty()) object.refuse(key.name, fault);
}

bool is_time(std::string_view text) {
  constexpr std::string_view pattern = "dddd-dd-ddTdd:dd:ddZ";
  if (text.size() != pattern.size() || !std::equal(text.begin(), text.end(), pattern.begin(), [](char c, char p) {
        return p == 'd' ? c >= '0' && c <= '9' : c == p;
      })) {
    return false;
  }
  const auto two = [&](std::size_t at) { return static_cast<unsigned>((text[at] - '0') * 10 + (text[at + 1] - '0')); };
  const std::chrono::year_month_day day{std::chrono::year(static_cast<int>(100 * two(0) + two(2))),
                                        std::chrono::month(two(5)), std::chrono::day(two(8))};
  return day.ok() && two(11) < 24 && two(14) < 60 && two(17) < 60;
}

bool is_digits(std::string_view text) {
  return !text.empty() && text.size() <= 20 && (text == "0" || text.front() != '0') &&
         std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
}

bool is_base64(std::string_view text) {
  if (text.size() % 4 != 0) return false;
  const std::size_t end = std::min(text.find('='), text.size());
  return text.size() - end <= 2 && text.find_first_not_of('=', end) == std::string_view::npos &&
         std::all_of(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(end), [](char c) {
           return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '+' || c == '/';
         });
}

void check_figures(const Object& figures) {
  for (const std::string& name : figures.keys()) {
    if (name.empty() || name.size() > longest_name) figures.refuse(name, "is no name of 1 to 200 bytes");
    if (const std::string fault = fault_of_line(name); !fault.empty()) figures.refuse("(a key)", fault);
    (void)figures.number(name, -any, any);
  }
}

/// Whole numbers that lie between two doubles: programs that read all numbers as doubles read others (RFC 7493, 2.2).
bool exact(const Json& number) {
  constexpr double beyond = 18446744073709551616.0;  // 2^64
  const auto value = number.get<double>();
  if (number.is_number_unsigned()) {
    return value < beyond && static_cast<std::uint64_t>(value) == number.get<std::uint64_t>();
  }
  return static_cast<std::int64_t>(value) == number.get<std::int64_t>();
}

void check_whole_numbers(const Object& object, std::string_view key, const Json& value) {
  if (value.is_number_integer() && !exact(value)) {
    object.refuse(key, "is a whole number that not every program reads exactly", "Write it as a text");
  }
  if (!value.is_structured()) return;
  for (const auto& [name, inner] : value.items()) check_whole_numbers(object, key, inner);
}

void check_key(const Object& object, const Key& key) {
  const auto text_of = [&](auto&& holds_for, std::string_view expected) {
    if (!holds_for(object.text(key.name))) object.refuse(key.name, fmt::format("{} was expected", expected));
  };
  switch (key.kind) {
    case Kind::number:
      (void)object.number(key.name, key.lower, key.upper);
      break;
    case Kind::whole:
      (void)object.whole(key.name, key.lower, key.upper);
      break;
    case Kind::flag:
      (void)object.flag(key.name);
      break;
    case Kind::name:
      check_text(object, key, 1, longest_name, false);
      break;
    case Kind::line:
      check_text(object, key, 0, longest_line, false);
      break;
    case Kind::prose:
      check_text(object, key, 0, longest_prose, true);
      break;
    case Kind::choice:
      (void)object.choice(key.name, key.choices);
      break;
    case Kind::hex:
      text_of([&](const std::string& text) { return is_hex(text, static_cast<std::size_t>(key.upper)); },
              fmt::format("a text of {} lower-case hexadecimal digits", key.upper));
      break;
    case Kind::digits:
      text_of(is_digits, "a whole number as a text of digits");
      break;
    case Kind::time:
      text_of(is_time, "a time like 2024-02-29T12:00:00Z, that there is,");
      break;
    case Kind::base64:
      text_of(is_base64, "base64 (RFC 4648, with its padding)");
      break;
    case Kind::wholes:
      for (const double number : object.numbers(key.name, 0.0, 1e9)) {
        if (number != std::floor(number)) object.refuse(key.name, "whole numbers were expected");
      }
      break;
    case Kind::rows:
      (void)object.rows(key.name, -any, any);
      break;
    case Kind::object:
      check_shape(object.object(key.name), key.shape);
      break;
    case Kind::objects:
      for (const Object& one : object.objects(key.name)) check_shape(one, key.shape);
      break;
    case Kind::figures:
      check_figures(object.object(key.name));
      break;
    case Kind::open:
      (void)object.object(key.name);
      break;
  }
}

}  // namespace

std::string fault_of_line(std::string_view text) { return fault_of(text, false); }

void check_shape(const Object& object, Shape shape) {
  std::vector<std::string_view> names;
  for (const Key& key : shape) names.push_back(key.name);
  object.allow_only(names);
  for (const Key& key : shape) {
    if (!key.required && !object.has(key.name)) continue;
    check_key(object, key);
    const Json& value = *object.json().find(key.name);
    if (key.kind != Kind::object && key.kind != Kind::objects) check_whole_numbers(object, key.name, value);
  }
}

}  // namespace lampload::lamp_keys
