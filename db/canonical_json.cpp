#include "db/canonical_json.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <utility>
#include <vector>

#include "core/error.h"
#include "core/unicode.h"

namespace lampload::json {
namespace {

/// UTF-16 code units of well-formed UTF-8: they order differently from bytes where surrogates meet U+E000 and above.
std::u16string code_units(std::string_view text) {
  std::u16string units;
  while (!text.empty()) {
    const auto [length, point] = first_character(text);
    if (point >= 0x10000) {
      units += static_cast<char16_t>(0xD800 + ((point - 0x10000) >> 10U));
      units += static_cast<char16_t>(0xDC00 + ((point - 0x10000) & 0x3FFU));
    } else {
      units += static_cast<char16_t>(point);
    }
    text.remove_prefix(std::max<std::size_t>(length, 1));
  }
  return units;
}

void put_text(std::string& out, std::string_view text) {
  out += '"';
  for (const char c : text) {
    switch (c) {
      case '"':
        out += "\\\"";
        break;
      case '\\':
        out += "\\\\";
        break;
      case '\b':
        out += "\\b";
        break;
      case '\f':
        out += "\\f";
        break;
      case '\n':
        out += "\\n";
        break;
      case '\r':
        out += "\\r";
        break;
      case '\t':
        out += "\\t";
        break;
      default:
        if (static_cast<unsigned char>(c) < 0x20) {
          out += fmt::format("\\u{:04x}", static_cast<unsigned char>(c));
        } else {
          out += c;
        }
    }
  }
  out += '"';
}

/// Writes either form; `lines` says which.
class Writer {
 public:
  explicit Writer(bool lines) : lines_(lines) {}

  void put(const Json& value, std::size_t level = 0) {
    if (value.is_object()) {
      put_object(value, level);
    } else if (value.is_array()) {
      put_array(value, level);
    } else if (value.is_string()) {
      put_text(text, value.get_ref<const std::string&>());
    } else if (value.is_boolean()) {
      text += value.get<bool>() ? "true" : "false";
    } else if (value.is_number()) {
      text += canonical_number(value.get<double>());
    } else {
      text += "null";
    }
  }

  std::string text;

 private:
  void put_object(const Json& object, std::size_t level) {
    std::vector<std::pair<std::u16string, Json::const_iterator>> keys;
    for (auto one = object.begin(); one != object.end(); ++one) keys.emplace_back(code_units(one.key()), one);
    std::sort(keys.begin(), keys.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
    text += '{';
    bool first = true;
    for (const auto& [units, one] : keys) {
      if (!first) text += ',';
      first = false;
      line(level + 1, true);
      put_text(text, one.key());
      text += lines_ ? ": " : ":";
      put(one.value(), level + 1);
    }
    line(level, !keys.empty());
    text += '}';
  }

  void put_array(const Json& list, std::size_t level) {
    const bool nested = std::any_of(list.begin(), list.end(), [](const Json& one) { return one.is_structured(); });
    text += '[';
    bool first = true;
    for (const Json& one : list) {
      if (!first) text += lines_ && !nested ? ", " : ",";
      first = false;
      line(level + 1, nested);
      put(one, level + 1);
    }
    line(level, nested);
    text += ']';
  }

  void line(std::size_t level, bool wanted) {
    if (lines_ && wanted) text += '\n' + std::string(2 * level, ' ');
  }

  bool lines_;
};

}  // namespace

std::string canonical_number(double value) {
  if (!std::isfinite(value)) {
    throw Error(ErrorCode::input_refused, "a number is not finite, and JSON cannot hold it");
  }
  if (value == 0.0) return "0";
  std::array<char, 32> buffer{};
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), std::abs(value), std::chars_format::scientific);
  const std::string_view shortest(buffer.data(), static_cast<std::size_t>(end.ptr - buffer.data()));
  const std::size_t mark = shortest.find('e');
  std::string digits;
  for (const char c : shortest.substr(0, mark)) {
    if (c != '.') digits += c;
  }
  int exponent = 0;
  const std::string_view written = shortest.substr(mark + (shortest[mark + 1] == '+' ? 2 : 1));
  std::from_chars(written.data(), written.data() + written.size(), exponent);

  // ECMA-262 Number::toString: k digits, the decimal point behind the n-th.
  const int k = static_cast<int>(digits.size());
  const int n = exponent + 1;
  const auto at = [](int place) { return static_cast<std::size_t>(place); };
  const std::string_view sign = value < 0.0 ? "-" : "";
  const std::string_view all = digits;
  if (k <= n && n <= 21) return fmt::format("{}{}{:0<{}}", sign, all, "", n - k);
  if (0 < n && n <= 21) return fmt::format("{}{}.{}", sign, all.substr(0, at(n)), all.substr(at(n)));
  if (-6 < n && n <= 0) return fmt::format("{}0.{:0<{}}{}", sign, "", -n, all);
  return fmt::format("{}{}{}{}e{}{}", sign, all[0], k == 1 ? "" : ".", all.substr(1), n > 0 ? "+" : "-",
                     std::abs(n - 1));
}

std::string canonical(const Json& value) {
  Writer writer(false);
  writer.put(value);
  return std::move(writer.text);
}

std::string laid_out(const Json& value) {
  Writer writer(true);
  writer.put(value);
  return std::move(writer.text) + "\n";
}

}  // namespace lampload::json
