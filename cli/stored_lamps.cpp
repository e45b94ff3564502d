#include "cli/stored_lamps.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "cli/basis.h"
#include "cli/fitting.h"
#include "cli/terminal.h"
#include "core/advice/dimming.h"
#include "core/error.h"
#include "db/library.h"

namespace lampload {
namespace {

constexpr int most_count = 100000;

struct Word {
  std::string name;
  int count = 1;
};

Word split(const std::string& word, const std::vector<LampSummary>& known) {
  const auto mark = word.rfind('=');
  const bool whole =
      std::any_of(known.begin(), known.end(), [&](const LampSummary& lamp) { return lamp.name == word; });
  if (whole || mark == std::string::npos) return {word, 1};
  Word split{word.substr(0, mark), 0};
  const char* begin = word.data() + mark + 1;
  const char* end = word.data() + word.size();
  const auto [stop, failure] = std::from_chars(begin, end, split.count);
  if (failure != std::errc{} || stop != end || split.count < 1 || split.count > most_count) {
    throw Error(ErrorCode::usage, fmt::format("'{}': the count is not a whole number from 1 to {}", word, most_count),
                Place{}, "Write NAME=COUNT, such as 'stair candle=4'");
  }
  return split;
}

NamedLamps fitted_lamp(const Library& library, const std::string& name) {
  const LampRecord record = library.lamp(name);
  NamedLamps one;
  one.name = record.name;
  one.caution = short_caution_of(record);
  one.evidence = evidence_of(record.name, record.fit, record.captures, record.nominal);
  if (one.evidence.lamp) return one;
  throw no_circuit(record);
}

}  // namespace

Error no_circuit(const LampRecord& lamp) {
  const bool fitted = lamp.fit.has_value();
  return {ErrorCode::input_refused,
          fmt::format("'{}' has no equivalent circuit: {}", lamp.name,
                      fitted ? "no family describes it" : "it is not fitted yet"),
          Place{},
          fitted ? "Only what was captured is known of it; 'lampload recommend' answers from the waveform"
                 : "Run 'lampload fit' on it first"};
}

std::vector<NamedLamps> stored_lamps(const std::vector<std::string>& words, const LibraryOption& option) {
  const Library library = option.open_existing(Library::Access::read_only);
  const std::vector<LampSummary> known = library.lamps();
  std::vector<NamedLamps> lamps;
  for (const std::string& text : words) {
    const Word word = split(text, known);
    lamps.push_back(fitted_lamp(library, word.name));
    lamps.back().count = word.count;
  }
  return lamps;
}

NamedLamps stored_lamp(const std::string& name, const LibraryOption& option) {
  return fitted_lamp(option.open_existing(Library::Access::read_only), name);
}

std::vector<std::string> cautions_of(const std::vector<NamedLamps>& lamps) {
  std::vector<std::string> cautions;
  for (const NamedLamps& one : lamps) {
    if (one.caution.empty() || std::find(cautions.begin(), cautions.end(), one.caution) != cautions.end()) continue;
    cautions.push_back(one.caution);
  }
  return cautions;
}

void tell_cautions(const std::vector<std::string>& cautions, bool quiet) {
  if (quiet) return;
  for (const std::string& caution : cautions) Screen(stderr).line("caution: " + caution, Style::warning);
}

std::vector<LampGroup> groups_of(const std::vector<NamedLamps>& lamps) {
  std::vector<LampGroup> groups;
  for (const NamedLamps& one : lamps) groups.push_back({*one.evidence.lamp, one.count});
  return groups;
}

std::string lamps_in_words(const std::vector<NamedLamps>& lamps) {
  std::string text;
  for (const NamedLamps& one : lamps) text += fmt::format("{}{} x {}", text.empty() ? "" : ", ", one.count, one.name);
  return text;
}

Mode mode_on(const Channel& channel, const std::string& name) {
  std::vector<Mode> modes = dimming_modes(channel);
  if (fed_by_mains(channel)) modes.push_back(Mode::on_off);
  std::string can;
  for (const Mode mode : modes) {
    if (mode_name(mode) == name) return mode;
    can += fmt::format("{}{}", can.empty() ? "" : ", ", mode_name(mode));
  }
  throw Error(ErrorCode::usage, fmt::format("channel '{}' cannot do '{}'", channel.name, name), Place{},
              "It can do " + can);
}

}  // namespace lampload
