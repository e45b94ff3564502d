#include "cli/quantity.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace lampload {
namespace {

struct Prefix {
  double factor = 1.0;
  std::string_view letter;
};

constexpr std::array<Prefix, 8> prefixes = {
    {{1e-12, "p"}, {1e-9, "n"}, {1e-6, "u"}, {1e-3, "m"}, {1.0, ""}, {1e3, "k"}, {1e6, "M"}, {1e9, "G"}}};

bool takes_prefix(std::string_view unit) {
  constexpr std::array<std::string_view, 13> units = {"V", "A", "W",  "VA", "var", "Ohm", "F",
                                                      "H", "s", "Hz", "J",  "S",   "S/s"};
  return std::find(units.begin(), units.end(), unit) != units.end();
}

/// Chosen by the size after rounding to `digits`, so that 999.96 mA reads 1.000 A.
Prefix prefix_for(double value, std::string_view unit, int digits) {
  const double size = std::abs(value);
  if (!takes_prefix(unit) || size == 0.0 || !std::isfinite(size)) return {};
  const double rounded = size * (1.0 + 0.5 * std::pow(10.0, -digits));
  Prefix chosen = prefixes.front();
  for (const Prefix& prefix : prefixes) {
    if (rounded >= prefix.factor) chosen = prefix;
  }
  return chosen;
}

std::string with_digits(double value, int digits) {
  if (!std::isfinite(value)) return value > 0.0 ? "no limit" : "unknown";
  if (value == 0.0) return "0";
  const int exponent =
      static_cast<int>(std::floor(std::log10(std::abs(value) * (1.0 + 0.5 * std::pow(10.0, -digits)))));
  if (exponent < -3 || exponent > 5) return fmt::format("{:.{}e}", value, digits - 1);
  return fmt::format("{:.{}f}", value, std::max(0, digits - 1 - exponent));
}

std::string with_unit(std::string number, std::string_view prefix, std::string_view unit) {
  if (unit.empty() || unit == "1") return number;
  return fmt::format("{} {}{}", number, prefix, unit);
}

bool is_unit_word(std::string_view word) {
  constexpr std::array<std::string_view, 17> words = {"v",   "a", "w", "va", "ohm", "f",  "h",  "s",  "hz",
                                                      "deg", "k", "j", "c",  "per", "k4", "us", "a2s"};
  return std::find(words.begin(), words.end(), word) != words.end();
}

/// Abbreviations as the trade writes them.
std::string_view written(std::string_view word) {
  if (word == "led") return "LED";
  if (word == "esr") return "ESR";
  if (word == "dc") return "DC";
  if (word == "ntc") return "NTC";
  if (word == "i2t") return "I2t";
  return word;
}

}  // namespace

std::string quantity(double value, std::string_view unit, int digits) {
  const Prefix prefix = prefix_for(value, unit, digits);
  return with_unit(with_digits(value / prefix.factor, digits), prefix.letter, unit);
}

QuantityWithUncertainty quantity(double value, double standard_uncertainty, double lower_95, double upper_95,
                                 std::string_view unit) {
  const double widest = std::max({std::abs(value), std::abs(lower_95), std::abs(upper_95)});
  const Prefix prefix = prefix_for(value != 0.0 ? value : widest, unit, 4);
  const double u = standard_uncertainty / prefix.factor;
  const auto number = [&](double x) {
    const double scaled = x / prefix.factor;
    if (!(u > 0.0) || !std::isfinite(u) || std::abs(scaled) >= 1e6 || u < 1e-4) return with_digits(scaled, 4);
    const int decimals = std::clamp(1 - static_cast<int>(std::floor(std::log10(u))), 0, 6);
    return fmt::format("{:.{}f}", scaled, decimals);
  };
  QuantityWithUncertainty text;
  text.value = with_unit(number(value), prefix.letter, unit);
  if (u > 0.0) text.standard_uncertainty = with_unit(with_digits(u, 2), prefix.letter, unit);
  if (upper_95 > lower_95) {
    text.interval_95 = with_unit(number(lower_95) + " to " + number(upper_95), prefix.letter, unit);
  }
  return text;
}

std::string spoken(std::string_view name) {
  std::vector<std::string_view> words;
  for (std::size_t start = 0; start <= name.size();) {
    const std::size_t end = std::min(name.find('_', start), name.size());
    words.push_back(name.substr(start, end - start));
    start = end + 1;
  }
  while (words.size() > 1 && is_unit_word(words.back())) words.pop_back();
  std::string text;
  for (const std::string_view word : words) {
    if (!text.empty()) text += ' ';
    text += written(word);
  }
  return text;
}

std::string spoken_sentence(std::string_view sentence) {
  const auto in_name = [](char c) { return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_' || c == '.'; };
  std::string text;
  while (!sentence.empty()) {
    const auto end = std::find_if_not(sentence.begin(), sentence.end(), in_name);
    std::string_view word = sentence.substr(0, static_cast<std::size_t>(end - sentence.begin()));
    const std::string_view name = word.substr(0, word.find_last_not_of('.') + 1);
    const bool is_key = name.find('.') != std::string_view::npos;
    if (name.find('_') != std::string_view::npos && !is_key) {
      text += spoken(name);
      text += word.substr(name.size());
    } else {
      text += word;
    }
    sentence.remove_prefix(word.size());
    if (!sentence.empty()) {
      text += sentence.front();
      sentence.remove_prefix(1);
    }
  }
  return text;
}

std::string counted(int count, std::string_view what) {
  return fmt::format("{} {}{}", count, what, count == 1 ? "" : "s");
}

}  // namespace lampload
