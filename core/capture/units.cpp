#include "core/capture/units.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <utility>
#include <vector>

namespace lampload {
namespace {

struct UnitWord {
  std::string_view word;
  Quantity quantity;
  double factor;
};

constexpr auto kSecond = Quantity::time;
constexpr auto kVolt = Quantity::voltage;
constexpr auto kAmpere = Quantity::current;

// In English, German, French, Spanish and Italian; these take prefixes. "na" and "pa" are none of ampere.
constexpr std::array<UnitWord, 25> kBaseUnits{{
    {"s", kSecond, 1},        {"sec", kSecond, 1},     {"secs", kSecond, 1},     {"second", kSecond, 1},
    {"seconds", kSecond, 1},  {"sekunde", kSecond, 1}, {"sekunden", kSecond, 1}, {"seconde", kSecond, 1},
    {"secondes", kSecond, 1}, {"segundo", kSecond, 1}, {"segundos", kSecond, 1}, {"secondo", kSecond, 1},
    {"secondi", kSecond, 1},  {"v", kVolt, 1},         {"volt", kVolt, 1},       {"volts", kVolt, 1},
    {"voltio", kVolt, 1},     {"voltios", kVolt, 1},   {"a", kAmpere, 1},        {"amp", kAmpere, 1},
    {"amps", kAmpere, 1},     {"ampere", kAmpere, 1},  {"amperes", kAmpere, 1},  {"amperio", kAmpere, 1},
    {"amperios", kAmpere, 1},
}};

constexpr std::array<UnitWord, 18> kLongTimes{{
    {"min", kSecond, 60},
    {"mins", kSecond, 60},
    {"minute", kSecond, 60},
    {"minutes", kSecond, 60},
    {"minuten", kSecond, 60},
    {"minuto", kSecond, 60},
    {"minutos", kSecond, 60},
    {"minuti", kSecond, 60},
    {"h", kSecond, 3600},
    {"hr", kSecond, 3600},
    {"hrs", kSecond, 3600},
    {"hour", kSecond, 3600},
    {"hours", kSecond, 3600},
    {"stunden", kSecond, 3600},
    {"heures", kSecond, 3600},
    {"horas", kSecond, 3600},
    {"std", kSecond, 3600},
    {"ore", kSecond, 3600},
}};

constexpr std::array<std::string_view, 8> kOtherUnits{"w", "watt", "watts", "va", "hz", "degc", "db", "ohm"};

constexpr std::array<std::pair<std::string_view, double>, 5> kPrefixLetters{
    {{"m", 1e-3}, {"u", 1e-6}, {"n", 1e-9}, {"p", 1e-12}, {"k", 1e3}}};
constexpr std::array<std::pair<std::string_view, double>, 9> kPrefixWords{{{"milli", 1e-3},
                                                                           {"mili", 1e-3},
                                                                           {"micro", 1e-6},
                                                                           {"mikro", 1e-6},
                                                                           {"nano", 1e-9},
                                                                           {"pico", 1e-12},
                                                                           {"piko", 1e-12},
                                                                           {"kilo", 1e3},
                                                                           {"quilo", 1e3}}};

// What is added to a unit and changes no factor.
constexpr std::array<std::string_view, 4> kAdditions{"ac", "dc", "inst", "momentan"};
constexpr std::array<std::string_view, 10> kFiguresOfMany{"rms",  "trms", "eff",  "pp",  "pk",
                                                          "peak", "avg",  "mean", "max", "min"};

bool is_of_many(std::string_view word) { return is_among(word, kFiguresOfMany); }
bool is_addition(std::string_view word) { return is_of_many(word) || is_among(word, kAdditions); }

std::optional<Unit> base_unit(std::string_view word) {
  for (const UnitWord& unit : kBaseUnits) {
    if (unit.word == word) return Unit{unit.quantity, unit.factor};
  }
  return std::nullopt;
}

std::optional<Unit> with_prefix(std::string_view word) {
  if (const auto unit = base_unit(word)) return unit;
  for (const auto& [prefix, factor] : kPrefixLetters) {
    if (!word.starts_with(prefix)) continue;
    const auto unit = base_unit(word.substr(1));
    if (!unit || word.size() > 5) continue;
    const bool time = unit->quantity == Quantity::time;
    if (factor == 1e3 ? time : (factor == 1e-12 && !time)) continue;
    if (factor == 1e-9 && unit->quantity == Quantity::current) continue;
    return Unit{unit->quantity, factor};
  }
  for (const auto& [prefix, factor] : kPrefixWords) {
    if (!word.starts_with(prefix) || word.size() < prefix.size() + 3) continue;
    if (const auto unit = base_unit(word.substr(prefix.size()))) return Unit{unit->quantity, factor};
  }
  return std::nullopt;
}

// "ma", "milliampere", "vdc", "marms"
std::optional<SpelledUnit> one_word(std::string_view word, UnitPlace place) {
  if (const auto unit = with_prefix(word)) return SpelledUnit{*unit, false};
  if (is_among(word, kOtherUnits)) {
    return SpelledUnit{{Quantity::other, 1.0}, false};
  }
  if (place == UnitPlace::brackets) {
    for (const UnitWord& unit : kLongTimes) {
      if (unit.word == word) return SpelledUnit{{unit.quantity, unit.factor}, false};
    }
  }
  if (place == UnitPlace::last_word && word == "adc") return std::nullopt;  // a converter
  for (const std::string_view end : {"dc", "ac", "rms", "eff", "pp", "pk"}) {
    if (word.size() <= end.size() || !word.ends_with(end)) continue;
    const auto unit = with_prefix(word.substr(0, word.size() - end.size()));
    if (unit && unit->quantity != Quantity::time) return SpelledUnit{*unit, is_of_many(end)};
  }
  return std::nullopt;
}

std::vector<std::string> unit_words(std::string_view text) {
  std::vector<std::string> words;
  for (std::size_t from = 0; from < text.size();) {
    const auto to = std::min(text.find_first_of(" \t,;_+", from), text.size());
    if (to > from) words.emplace_back(text.substr(from, to - from));
    from = to + 1;
  }
  return words;
}

/// A number with what stands behind it.
struct StatedNumber {
  double value = 0.0;
  std::string unit;
};

std::optional<StatedNumber> stated_number(std::string_view text, std::string_view beside, char decimal) {
  text = unquoted(text);
  if (text.starts_with("+-")) return std::nullopt;
  if (!text.empty() && text.front() == '+') text.remove_prefix(1);
  const auto end = std::min(text.find_first_not_of("+-0123456789.,eE"), text.size());
  std::string digits(text.substr(0, end));
  while (!digits.empty() && (digits.back() == ',' || digits.back() == 'e' || digits.back() == 'E')) digits.pop_back();
  const std::size_t length = digits.size();
  if (decimal == ',') {
    // "20.000" may be twenty and twenty thousand.
    const auto point = digits.find('.');
    const auto behind = point == std::string::npos ? 0 : digits.find_first_not_of("0123456789", point + 1);
    const auto figures = std::min(behind, digits.size()) - std::min(point, digits.size()) - 1;
    if (point != std::string::npos && figures == 3 && digits[0] != '0' && digits[0] != '.') return std::nullopt;
    if (point == std::string::npos) std::replace(digits.begin(), digits.end(), ',', '.');
  }
  StatedNumber stated;
  const auto [at, failure] = std::from_chars(digits.data(), digits.data() + digits.size(), stated.value);
  if (failure != std::errc{} || at != digits.data() + digits.size()) return std::nullopt;
  const std::string_view behind = trimmed(text.substr(length));
  stated.unit = plain_spelling(behind.empty() ? unquoted(beside) : behind);
  return stated;
}

}  // namespace

std::string plain_spelling(std::string_view text) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 20> kSame{{{"\u00a0", " "},
                                                                                        {"\u2007", " "},
                                                                                        {"\u2009", " "},
                                                                                        {"\u202f", " "},
                                                                                        {"\u3000", " "},
                                                                                        {"\u200b", ""},
                                                                                        {"\u2060", ""},
                                                                                        {"\ufeff", ""},
                                                                                        {"\uff08", "("},
                                                                                        {"\uff09", ")"},
                                                                                        {"\uff3b", "["},
                                                                                        {"\uff3d", "]"},
                                                                                        {"\u3010", "["},
                                                                                        {"\u3011", "]"},
                                                                                        {"\uff0d", "-"},
                                                                                        {"\u2013", "-"},
                                                                                        {"\u2014", "-"},
                                                                                        {"\uff0f", "/"},
                                                                                        {"\u00c2\u00b5", "\u00b5"},
                                                                                        {"\u00ce\u00bc", "\u00b5"}}};
  std::string plain;
  for (std::size_t at = 0; at < text.size();) {
    const auto* same = static_cast<unsigned char>(text[at]) < 0x80
                           ? kSame.end()
                           : std::find_if(kSame.begin(), kSame.end(),
                                          [&](const auto& entry) { return text.substr(at).starts_with(entry.first); });
    if (same != kSame.end()) {
      plain += same->second;
      at += same->first.size();
    } else {
      plain += text[at++];
    }
  }
  return plain;
}

std::optional<SpelledUnit> read_unit(std::string_view text, UnitPlace place) {
  const std::string spelled = plain_spelling(text);
  text = trimmed(spelled);
  const auto enclosed = [&] {
    for (const std::string_view pair : {"()", "[]", "{}", "<>", "\"\""}) {
      if (text.size() >= 2 && text.front() == pair[0] && text.back() == pair[1]) return true;
    }
    return false;
  };
  while (enclosed()) text = trimmed(text.substr(1, text.size() - 2));
  // The micro sign of the DOS code pages, read as Latin-1.
  std::string unit = folded(text);
  if (unit.size() == 3 && unit.starts_with("\u00e6")) unit.replace(0, 2, "u");
  std::vector<std::string> words = unit_words(unit);
  if (words.size() > 1 && (words[0] == "in" || words[0] == "en")) words.erase(words.begin());
  if (words.size() > 1 && words[0].size() == 1 && words[1].size() == 1 && words[0] != "s") {  // "m A"
    words[1].insert(0, words[0]);
    words.erase(words.begin());
  }
  if (words.empty()) return std::nullopt;
  auto found = one_word(words[0], place);
  for (std::size_t k = 1; k < words.size() && found; ++k) {
    if (!is_addition(words[k])) return std::nullopt;
    found->of_many = found->of_many || is_of_many(words[k]);
  }
  return found;
}

std::optional<Unit> parse_unit(std::string_view text) {
  const auto found = read_unit(text, UnitPlace::brackets);
  return found ? std::optional(found->unit) : std::nullopt;
}

std::optional<double> parse_seconds(std::string_view text, std::string_view beside, char decimal,
                                    const std::optional<Unit>& usual) {
  const auto stated = stated_number(text, beside, decimal);
  if (!stated) return std::nullopt;
  if (stated->unit.empty()) return stated->value * (usual ? usual->factor : 1.0);
  const auto unit = parse_unit(stated->unit);
  if (!unit || unit->quantity != Quantity::time) return std::nullopt;
  return stated->value * unit->factor;
}

std::optional<double> parse_rate(std::string_view text, std::string_view beside, char decimal) {
  const auto stated = stated_number(text, beside, decimal);
  if (!stated) return std::nullopt;
  std::string rate = folded(trimmed(stated->unit));
  while (rate.size() > 2 && (rate.front() == '(' || rate.front() == '[')) rate = rate.substr(1, rate.size() - 2);
  if (rate.empty()) return stated->value;
  for (const std::string_view base :
       {"hz", "sa/s", "s/s", "sps", "samples/s", "samples/sec", "samples per second", "1/s"}) {
    if (rate == base) return stated->value;
    if (!rate.ends_with(base) || rate.size() != base.size() + 1) continue;
    if (rate.front() == 'k') return stated->value * 1e3;
    if (rate.front() == 'm') return stated->value * 1e6;
    if (rate.front() == 'g') return stated->value * 1e9;
  }
  return std::nullopt;
}

}  // namespace lampload
