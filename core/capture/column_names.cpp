#include "core/capture/column_names.h"

#include <algorithm>
#include <array>
#include <utility>
#include <vector>

#include "core/capture/units.h"

namespace lampload {
namespace {

bool is_figure(char c) { return c >= '0' && c <= '9'; }

constexpr std::array<std::string_view, 13> kTimeWords{"time",     "t",         "zeit",        "temps",   "tiempo",
                                                      "tempo",    "timestamp", "zeitstempel", "uhrzeit", "x",
                                                      "horodate", "secs",      "heure"};
constexpr std::array<std::string_view, 12> kVoltageWords{"voltage", "volt",    "volts",    "v",   "u",   "spannung",
                                                         "tension", "voltaje", "tensione", "vac", "vdc", "vin"};
constexpr std::array<std::string_view, 13> kCurrentWords{"current", "i",     "amp",     "amps",      "ampere",
                                                         "amperes", "strom", "courant", "corriente", "corrente",
                                                         "iac",     "idc",   "iin"};
constexpr std::array<std::string_view, 13> kIndexWords{"sample",  "samples",  "index",    "idx",      "n",
                                                       "nr",      "no",       "point",    "sequence", "echantillon",
                                                       "muestra", "campione", "messpunkt"};
constexpr std::array<std::string_view, 14> kOtherWords{"power",     "leistung", "puissance",   "potencia", "potenza",
                                                       "frequency", "freq",     "temperature", "energy",   "mean",
                                                       "average",   "min",      "max",         "phase"};
constexpr std::array<std::string_view, 10> kChannelWords{"channel", "kanal", "canal", "canale", "voie",
                                                         "ch",      "spur",  "trace", "via",    "input"};

// "current2" is a second current; "ch1" stays what it is.
std::string without_number(std::string word) {
  while (word.size() > 1 && is_figure(word.back())) word.pop_back();
  return word;
}

Quantity meaning_of_words(const std::vector<std::string>& words) {
  Quantity found = Quantity::unknown;
  for (const std::string& raw : words) {
    const std::string word = without_number(raw);
    if (word.find("rms") != std::string::npos || is_among(word, kOtherWords)) return Quantity::other;
    // Single letters speak only where they stand first: "V lamp", not "channel V".
    if (word.size() == 1 && &raw != &words.front()) continue;
    if (found != Quantity::unknown && found != Quantity::sample_index) continue;
    if (is_among(word, kTimeWords))
      found = Quantity::time;
    else if (is_among(word, kVoltageWords))
      found = Quantity::voltage;
    else if (is_among(word, kCurrentWords))
      found = Quantity::current;
    else if (found == Quantity::unknown && is_among(word, kIndexWords))
      found = Quantity::sample_index;
  }
  return found;
}

// "timeMs", "CurrentmA": a word for a quantity and its unit in one.
std::optional<SpelledUnit> unit_behind_word(std::string_view name) {
  const std::string word = folded(name);
  const auto behind = [&](Quantity quantity, const auto& list) -> std::optional<SpelledUnit> {
    for (const std::string_view start : list) {
      if (start.size() < 4 || start.size() >= word.size() || !word.starts_with(start)) continue;
      const auto unit = read_unit(std::string_view(word).substr(start.size()), UnitPlace::last_word);
      if (unit && unit->unit.quantity == quantity) return unit;
    }
    return std::nullopt;
  };
  if (const auto unit = behind(Quantity::time, kTimeWords)) return unit;
  if (const auto unit = behind(Quantity::voltage, kVoltageWords)) return unit;
  return behind(Quantity::current, kCurrentWords);
}

// What brackets of a name hold that says nothing of units: "u(t)", "Voltage (lamp)", "I (CH2)".
constexpr std::array<std::string_view, 22> kPlainRemarks{
    "lamp",  "lampe",  "load",   "mains",  "netz", "line", "supply", "terminal", "terminals", "clamp", "probe",
    "shunt", "output", "outlet", "dimmer", "led",  "raw",  "local",  "relative", "absolute",  "rel",   "abs"};

bool is_plain_remark(std::string_view text) {
  const std::vector<std::string> words = words_of(text);
  const std::string key = folded(text);
  if (key.find_first_of("/*^%=") != std::string::npos || key.find('?') != std::string::npos) return false;
  if (text.find("\u00d7") != std::string_view::npos || text.find("\ufffd") != std::string_view::npos) return false;
  if (words.size() == 1 && words[0].size() == 1) return is_figure(words[0][0]) || is_among(words[0], kTimeWords);
  const bool spoken = std::any_of(words.begin(), words.end(), [](const std::string& raw) {
    const std::string word = without_number(raw);
    return is_among(word, kPlainRemarks) || is_among(word, kChannelWords) || is_among(word, kTimeWords) ||
           is_among(word, kVoltageWords) || is_among(word, kCurrentWords) || is_among(word, kOtherWords);
  });
  const bool number_first = !words.empty() && words.size() > 1 && is_figure(words[0][0]) && !words[0].ends_with('x');
  return spoken && !number_first;
}

// "x10", "* 1000", "/10", "10^-3": what a factor looks like.
bool holds_factor(std::string_view text) {
  const std::string plain = folded(text);
  if (plain.find("10^") != std::string::npos) return true;
  for (std::size_t at = 0; at < plain.size(); ++at) {
    const bool times_sign = plain.compare(at, 2, "\u00d7") == 0;
    const bool x = plain[at] == 'x' && (at == 0 || plain[at - 1] < 'a' || plain[at - 1] > 'z');
    if (!times_sign && !x && plain[at] != '*' && plain[at] != '/') continue;
    std::size_t digits = at + (times_sign ? 2 : 1);
    while (digits < plain.size() && plain[digits] == ' ') ++digits;
    std::size_t end = digits;
    while (end < plain.size() && (is_figure(plain[end]) || plain[end] == '.')) ++end;
    if (end > digits && plain.substr(digits, end - digits) != "1") return true;
  }
  return false;
}

// A name with its unit cut out.
struct NamedUnit {
  std::optional<SpelledUnit> unit;
  std::string unread;  // what stands where the unit would, and is none
  std::string rest;
};

// Brackets of every kind, from the left; one that is not closed reaches to the end.
void look_in_brackets(const std::string& name, NamedUnit& found) {
  for (std::size_t from = 0; (from = name.find_first_of("[({<", from)) != std::string::npos;) {
    const char close = name[from] == '[' ? ']' : name[from] == '(' ? ')' : name[from] == '{' ? '}' : '>';
    const auto to = std::min(name.find(close, from), name.size());
    const std::string inside(trimmed(std::string_view(name).substr(from + 1, to - from - 1)));
    auto unit = read_unit(inside, UnitPlace::brackets);
    const auto words = words_of(inside);
    const bool counts =
        words.size() == 1 && (is_among(words[0], kIndexWords) || words[0] == "pts" || words[0] == "points");
    if (!unit && counts) unit = SpelledUnit{{Quantity::sample_index, 1.0}, false};
    if (unit) {
      found.unit = unit;
      found.rest = name.substr(0, from) + " " + name.substr(std::min(to + 1, name.size()));
      return;
    }
    if (found.unread.empty() && !inside.empty() && !is_plain_remark(inside)) found.unread = inside;
    from = std::min(to + 1, name.size());
  }
}

NamedUnit find_unit(std::string_view text) {
  const std::string name(trimmed(plain_spelling(text)));
  NamedUnit found{std::nullopt, {}, name};
  look_in_brackets(name, found);
  if (found.unit) {
    found.unread = holds_factor(found.rest) ? std::string(trimmed(found.rest)) : std::string();
    return found;
  }
  if (const auto slash = name.rfind('/'); slash != std::string::npos) {
    if ((found.unit = read_unit(name.substr(slash + 1), UnitPlace::brackets))) {
      found.unread.clear();
      return found;
    }
  }
  std::vector<std::string_view> parts;
  for (std::size_t from = 0; from < name.size();) {
    const auto to = std::min(name.find_first_of("_ \t,-", from), name.size());
    if (to > from) parts.push_back(std::string_view(name).substr(from, to - from));
    from = to + 1;
  }
  for (std::size_t part = parts.size(); part-- > 1;) {
    // "Channel A" is a channel, "CH1 A" has its unit.
    const bool channel_letter = parts[part].size() == 1 && is_among(folded(parts[part - 1]), kChannelWords);
    if (channel_letter) continue;
    if (!(found.unit = read_unit(parts[part], UnitPlace::last_word))) continue;
    if (found.unread.empty() && holds_factor(name)) found.unread = name;
    return found;
  }
  // "Current.mA": a letter alone would be a phase.
  if (const auto mark = name.find_last_of(".:"); mark != std::string::npos) {
    const std::string_view behind = trimmed(std::string_view(name).substr(mark + 1));
    if (behind.size() > 1 && (found.unit = read_unit(behind, UnitPlace::last_word))) return found;
  }
  if (parts.size() == 1 && (found.unit = unit_behind_word(parts[0]))) return found;
  if (found.unread.empty() && holds_factor(name)) found.unread = name;
  return found;
}

Quantity said_by(std::string_view name) {
  std::string_view bare = name.substr(0, name.find_first_of("[({<"));
  if (trimmed(bare).empty()) bare = name;
  return meaning_of_words(words_of(bare));
}

bool speaks_of_channel(Quantity quantity) { return quantity == Quantity::voltage || quantity == Quantity::current; }

}  // namespace

std::optional<Unit> unit_in_name(std::string_view name) {
  const auto unit = find_unit(name).unit;
  return unit ? std::optional(unit->unit) : std::nullopt;
}

std::string unread_unit(std::string_view name) {
  const NamedUnit found = find_unit(name);
  // A number of samples is no unit of a channel.
  if (found.unit && found.unit->unit.quantity == Quantity::sample_index && speaks_of_channel(said_by(name))) {
    return std::string(trimmed(name));
  }
  return found.unread;
}

Unit column_meaning(std::string_view text, std::optional<Unit> unit_row) {
  const std::string spelled = plain_spelling(text);
  const std::string_view name = trimmed(spelled);
  const auto in_name = unit_row ? std::nullopt : find_unit(name).unit;
  std::optional<Unit> unit = unit_row;
  if (in_name) unit = in_name->unit;
  const Quantity said = said_by(name);
  if (unit && unit->quantity == Quantity::sample_index && speaks_of_channel(said)) unit.reset();
  if (said == Quantity::unknown && !unit) {
    std::string_view bare = name.substr(0, name.find_first_of("[({<"));
    if (trimmed(bare).empty()) bare = name;
    const auto whole = read_unit(bare, UnitPlace::last_word);
    return whole ? whole->unit : Unit{};
  }
  if (!unit) return {said, 1.0};
  if (said == Quantity::other) return {said, unit->factor};
  if (said == Quantity::unknown && in_name && in_name->of_many) return {Quantity::other, unit->factor};
  const bool conflict = (said == Quantity::voltage && unit->quantity == Quantity::current) ||
                        (said == Quantity::current && unit->quantity == Quantity::voltage);
  return {conflict ? Quantity::other : unit->quantity, unit->factor};
}

}  // namespace lampload
