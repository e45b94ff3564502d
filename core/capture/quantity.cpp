#include "core/capture/quantity.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

#include "core/capture/units.h"
#include "core/lower_case.h"

namespace lampload {
namespace {

constexpr double kOverload = 1e30;  // instruments write 9.9e37 and the like

bool is_digit(char c) { return c >= '0' && c <= '9'; }

bool is_overload_word(std::string_view text) {
  const std::string word = folded(text);
  static constexpr std::array<std::string_view, 26> kWords{
      "ol",   "+ol", "-ol",  "o.l",     "o.l.",    "overload", "overflow", "overrange", "over",
      "ovld", "ovl", "ovr",  "clip",    "clipped", "\u221e",   "+\u221e",  "-\u221e",   "\u2212\u221e",
      "na",   "n/a", "#n/a", "1.#qnan", "1.#ind",  "1.#inf",   "-1.#inf",  "1.#snan"};
  if (is_among(word, kWords)) return true;
  return word.size() >= 2 && word.find_first_not_of("-*") == std::string::npos;
}

// "12:00:00Z", "12:00:00 UTC", "12:00:00.5+01:00", "12:00:00-0500": all rows of a capture are of one zone.
std::string_view without_zone(std::string_view clock) {
  for (const std::string_view zone : {"Z", "UTC", "GMT"}) {
    if (clock.ends_with(zone)) return trimmed(clock.substr(0, clock.size() - zone.size()));
  }
  const auto sign = clock.find_last_of("+-");
  if (sign == std::string_view::npos || clock.substr(0, sign).find(':') == std::string_view::npos) return clock;
  std::string_view zone = clock.substr(sign + 1);
  const bool hours = zone.size() >= 2 && is_digit(zone[0]) && is_digit(zone[1]);
  if (!hours) return clock;
  zone.remove_prefix(2);
  if (zone.starts_with(':')) zone.remove_prefix(1);
  const bool minutes = zone.size() == 2 && is_digit(zone[0]) && is_digit(zone[1]);
  return zone.empty() || minutes ? trimmed(clock.substr(0, sign)) : clock;
}

}  // namespace

std::string folded(std::string_view text) {
  static constexpr std::array<std::pair<std::string_view, char>, 26> kLetters{{
      {"\u00e4", 'a'}, {"\u00e0", 'a'}, {"\u00e1", 'a'}, {"\u00e2", 'a'}, {"\u00c4", 'a'}, {"\u00e9", 'e'},
      {"\u00e8", 'e'}, {"\u00ea", 'e'}, {"\u00c9", 'e'}, {"\u00ed", 'i'}, {"\u00ec", 'i'}, {"\u00ee", 'i'},
      {"\u00f3", 'o'}, {"\u00f2", 'o'}, {"\u00f4", 'o'}, {"\u00f6", 'o'}, {"\u00d3", 'o'}, {"\u00d6", 'o'},
      {"\u00fa", 'u'}, {"\u00f9", 'u'}, {"\u00fb", 'u'}, {"\u00fc", 'u'}, {"\u00dc", 'u'}, {"\u00f1", 'n'},
      {"\u00b5", 'u'}, {"\u03bc", 'u'},
  }};
  std::string plain;
  for (std::size_t at = 0; at < text.size();) {
    // All of them begin with a byte of C2 to CE, as little in a capture does.
    const auto lead = static_cast<unsigned char>(text[at]);
    const auto* letter = lead < 0xC2 || lead > 0xCE
                             ? kLetters.end()
                             : std::find_if(kLetters.begin(), kLetters.end(), [&](const auto& entry) {
                                 return text.substr(at).starts_with(entry.first);
                               });
    if (letter != kLetters.end()) {
      plain += letter->second;
      at += letter->first.size();
    } else {
      plain += lower_case(text[at++]);
    }
  }
  return plain;
}

std::vector<std::string> words_of(std::string_view text) {
  std::vector<std::string> words;
  std::string word;
  for (const char c : folded(text)) {
    if ((c >= 'a' && c <= 'z') || is_digit(c)) {
      word += c;
    } else if (!word.empty()) {
      words.push_back(std::move(word));
      word.clear();
    }
  }
  if (!word.empty()) words.push_back(std::move(word));
  return words;
}

std::string_view trimmed(std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || (c >= '\t' && c <= '\r') || c == '\x1A'; };
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  return text;
}

std::string_view unquoted(std::string_view cell) {
  cell = trimmed(cell);
  if (cell.size() >= 2 && cell.front() == '"' && cell.back() == '"') cell = trimmed(cell.substr(1, cell.size() - 2));
  return cell;
}

Cell parse_cell(std::string_view text, char decimal) {
  text = unquoted(text);
  if (text.empty()) return {};
  std::string_view digits = text;
  if (digits.front() == '+') digits.remove_prefix(1);
  if (digits.size() < text.size() && digits.starts_with('-')) return {CellKind::text, 0.0};  // "+-3"
  std::array<char, 64> buffer{};
  if (decimal == ',' && digits.find(',') != std::string_view::npos) {
    if (digits.size() > buffer.size() || digits.find('.') != std::string_view::npos) return {CellKind::text, 0.0};
    std::replace_copy(digits.begin(), digits.end(), buffer.begin(), ',', '.');
    digits = std::string_view(buffer.data(), digits.size());
  } else if (decimal == ',' && digits.find('.') != std::string_view::npos) {
    return {CellKind::text, 0.0};
  }
  double value = 0.0;
  const auto [end, failure] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (end == digits.data() + digits.size()) {
    if (failure == std::errc::result_out_of_range) {
      const bool tiny = digits.find("e-") != std::string_view::npos || digits.find("E-") != std::string_view::npos;
      return {tiny ? CellKind::number : CellKind::overload, 0.0};
    }
    if (failure == std::errc{}) {
      if (!std::isfinite(value) || std::abs(value) >= kOverload) return {CellKind::overload, value};
      return {CellKind::number, value};
    }
  }
  return {is_overload_word(text) ? CellKind::overload : CellKind::text, 0.0};
}

MeasuredCell parse_measured(std::string_view text, char decimal) {
  const Cell plain = parse_cell(text, decimal);
  if (plain.kind != CellKind::text) return {plain.kind, plain.value};
  text = unquoted(text);
  std::string ascii;  // with the usual minus sign
  if (text.starts_with("\u2212")) {
    ascii = text.substr(2);
    ascii.front() = '-';
    text = ascii;
    if (const Cell turned = parse_cell(text, decimal); turned.kind != CellKind::text)
      return {turned.kind, turned.value};
  }
  const auto is_of_number = [&](char c) { return is_digit(c) || c == '+' || c == '-' || c == '.' || c == decimal; };
  std::size_t end = 0;
  while (end < text.size() && is_of_number(text[end])) ++end;
  // An exponent, unless the letter begins the unit.
  if (end > 0 && end + 1 < text.size() && (text[end] == 'e' || text[end] == 'E') && is_of_number(text[end + 1])) {
    end += 2;
    while (end < text.size() && is_digit(text[end])) ++end;
  }
  const std::string_view unit = trimmed(text.substr(end));
  const Cell number = parse_cell(text.substr(0, end), decimal);
  if (end == 0 || number.kind != CellKind::number) return {CellKind::text, 0.0};
  if (const auto known = parse_unit(unit))
    return {CellKind::number, number.value * known->factor, known->quantity, true};
  static constexpr std::array<std::pair<std::string_view, double>, 6> kPrefixes{
      {{"m", 1e-3}, {"u", 1e-6}, {"\u00b5", 1e-6}, {"\u03bc", 1e-6}, {"n", 1e-9}, {"k", 1e3}}};
  for (const auto& [prefix, factor] : kPrefixes) {
    if (unit == prefix) return {CellKind::number, number.value * factor, Quantity::unknown, true};
  }
  return {CellKind::text, 0.0};
}

std::optional<double> parse_clock(std::string_view text) {
  text = without_zone(unquoted(text));
  double half_day = -1.0;  // 0 in the morning, 12 h in the afternoon
  if (text.size() > 3 && lower_case(text.back()) == 'm') {
    const char half = lower_case(text[text.size() - 2]);
    if (half != 'a' && half != 'p') return std::nullopt;
    half_day = half == 'p' ? 12.0 : 0.0;
    text = trimmed(text.substr(0, text.size() - 2));
  }
  if (std::count(text.begin(), text.end(), ':') != 2) return std::nullopt;
  double days = 0.0;
  if (const auto mark = text.find_first_of(" T"); mark != std::string_view::npos) {
    const std::string_view before = text.substr(0, mark);
    if (!before.empty() && before.back() == 'd') {
      const Cell cell = parse_cell(before.substr(0, before.size() - 1), '.');
      if (cell.kind != CellKind::number) return std::nullopt;
      days = cell.value;
    }
    text = text.substr(text.find_last_of(" T") + 1);
  }
  std::array<double, 3> part{};
  for (std::size_t k = 0; k < 3; ++k) {
    const auto colon = std::min(text.find(':'), text.size());
    const std::string_view digits = text.substr(0, colon);
    const Cell cell = parse_cell(digits, digits.find(',') != std::string_view::npos ? ',' : '.');
    if (cell.kind != CellKind::number || cell.value < 0.0) return std::nullopt;
    part[k] = cell.value;
    text.remove_prefix(std::min(colon + 1, text.size()));
  }
  if (part[0] >= 100 || part[1] >= 60 || part[2] >= 61) return std::nullopt;
  if (half_day >= 0.0) part[0] = (part[0] == 12.0 ? 0.0 : part[0]) + half_day;
  return ((days * 24 + part[0]) * 60 + part[1]) * 60 + part[2];
}

std::string_view quantity_name(Quantity quantity) {
  switch (quantity) {
    case Quantity::time:
      return "time";
    case Quantity::voltage:
      return "voltage";
    case Quantity::current:
      return "current";
    case Quantity::sample_index:
      return "sample number";
    case Quantity::other:
      return "something else";
    case Quantity::unknown:
      break;
  }
  return "not said";
}

std::string plain_key(std::string_view text) {
  std::string key;
  for (const std::string& word : words_of(text)) key += word;
  return key;
}

}  // namespace lampload
