#include "core/capture/preamble_keys.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <string_view>

#include "core/capture/column_names.h"
#include "core/capture/units.h"

namespace lampload {
namespace {

constexpr std::array<std::string_view, 17> kIntervalKeys{
    "sampleinterval", "samplinginterval", "samplingperiod",    "sampleperiod",    "increment", "xincrement",
    "xincr",          "hresolution",      "timestep",          "timeinterval",    "deltat",    "dt",
    "tinc",           "abtastperiode",    "timebaseincrement", "abtastintervall", "intervallo"};
constexpr std::array<std::string_view, 8> kRateKeys{
    "samplerate", "samplingrate", "samplefrequency", "samplingfrequency", "abtastrate", "abtastfrequenz", "rate", "fs"};
// Keys that other things have too.
constexpr std::array<std::string_view, 3> kVagueKeys{"increment", "rate", "fs"};
// Where the first sample stands in time.
constexpr std::array<std::string_view, 10> kStartKeys{"start",   "starttime", "xstart",    "xzero",     "xorigin",
                                                      "hoffset", "timezero",  "startzeit", "timestart", "t0"};
constexpr std::array<std::string_view, 6> kValueUnitKeys{"verticalunits", "vunit",        "yunit",
                                                         "yunits",        "verticalunit", "channelunits"};
constexpr std::array<std::string_view, 9> kUnitKeys{"unit",   "units",  "einheit",  "einheiten", "unite",
                                                    "unites", "unidad", "unidades", "unita"};
constexpr std::array<std::string_view, 8> kTimeUnitKeys{"horizontalunits", "hunit",    "xunit",     "xunits",
                                                        "horizontalunit",  "timeunit", "timeunits", "zeiteinheit"};
constexpr std::array<std::string_view, 4> kNameKeys{"tracename", "source", "channel", "signal"};
constexpr std::array<std::string_view, 6> kColumnWords{"column", "col", "spalte", "colonne", "columna", "colonna"};
// Words of a line that says how codes become volts and amperes.
constexpr std::array<std::string_view, 12> kScaleWords{
    "lsb", "ymult", "yoff", "code", "codes", "adc", "multiplier", "gain", "raw", "counts", "scalefactor", "faktor"};

// Of several columns of one quantity, the one that is meant.
constexpr std::string_view kVoltageColumnKey = "voltagecolumn";
constexpr std::string_view kCurrentColumnKey = "currentcolumn";

// "CH1:0.00002" -> "0.00002"
std::string_view after_channel(std::string_view value) {
  const auto colon = value.rfind(':');
  return colon == std::string_view::npos ? value : trimmed(value.substr(colon + 1));
}

bool values_fill_columns(const HeaderCells& cells, const Layout& layout) {
  return covers_numbers(cells, layout) && !layout.columns.empty() && !layout.columns[0].holds_numbers &&
         std::count_if(layout.columns.begin(), layout.columns.end(), [](const Column& c) { return c.holds_numbers; }) >
             1;
}

/// One line of a preamble: a key and what stands behind it.
struct KeyLine {
  std::string key;
  std::string value;
  std::string beside;  ///< the unit in the next cell or in the key's brackets
  bool in_one_cell = false;
  bool figure_beside = false;
};

KeyLine key_line(const HeaderCells& cells, bool beside_table) {
  KeyLine line;
  std::string_view name = cells[0];
  line.value = cells.size() > 1 ? cells[1] : std::string();
  std::size_t next = 2;
  if (const auto mark = name.find_first_of(":="); mark != std::string_view::npos && mark + 1 < name.size()) {
    line.value = trimmed(name.substr(mark + 1));
    name = name.substr(0, mark);
    line.in_one_cell = true;
    next = 1;
  } else if (mark != std::string_view::npos) {
    name = name.substr(0, mark);
  }
  if (const auto bracket = name.find_first_of("[("); bracket != std::string_view::npos && bracket > 0) {
    std::string_view inside = name.substr(bracket + 1);
    inside = inside.substr(0, inside.find_first_of("])"));
    if (parse_unit(inside) || parse_rate("1", inside, '.')) {
      line.beside = inside;
      name = name.substr(0, bracket);
    }
  }
  line.key = plain_key(name);
  if (next < cells.size() && line.beside.empty() && cells[next].find(':') == std::string::npos) {
    line.figure_beside = parse_cell(cells[next], '.').kind == CellKind::number;
    const bool unit = parse_unit(cells[next]) || parse_rate("1", cells[next], '.');
    if (!line.figure_beside && (unit || !beside_table)) line.beside = cells[next];
  }
  return line;
}

/// Figures of the clock, and how much was said of them.
class ClockReader {
 public:
  ClockReader(const Layout& layout, PreambleKeys& found) : decimal_(layout.dialect.decimal), found_(found) {}

  bool take(const KeyLine& line, const std::string& text) {
    const bool interval = is_among(line.key, kIntervalKeys);
    const bool start = is_among(line.key, kStartKeys);
    if (!interval && !start && !is_among(line.key, kRateKeys)) return false;
    if (of_other_axis_) return true;
    const std::string_view value = after_channel(line.value);
    if (start) {
      if (const auto seconds = parse_seconds(value, line.beside, decimal_, found_.time_unit)) found_.start_s = seconds;
      return true;
    }
    const bool vague = is_among(line.key, kVagueKeys);
    const auto said = interval ? parse_seconds(value, line.beside, decimal_, found_.time_unit)
                               : parse_rate(value, line.beside, decimal_);
    if (!said || !(*said > 0.0) || (line.figure_beside && vague)) {
      if (!vague) found_.unread_clock = text;
      return true;
    }
    note(interval ? *said : 1.0 / *said, vague ? 0 : interval ? 2 : 1, text);
    return true;
  }

  /// A line such as "[Y axis]".
  void enter(const std::string& section) {
    of_other_axis_ = section.starts_with("y") || section.find("yaxis") != std::string::npos ||
                     section.find("vertical") != std::string::npos;
  }

  void finish() {
    if (contradicted_) found_.interval_s.reset();
  }

 private:
  // Of statements of one rank that differ none counts.
  void note(double interval_s, int rank, const std::string& text) {
    if (found_.interval_s && rank <= rank_) {
      const bool same = std::abs(interval_s - *found_.interval_s) < 1e-3 * *found_.interval_s;
      if (rank == rank_ && !same) {
        contradicted_ = true;
        found_.unread_clock = text;
      }
      return;
    }
    found_.interval_s = interval_s;
    rank_ = rank;
    contradicted_ = false;
  }

  char decimal_;
  PreambleKeys& found_;
  int rank_ = 0;
  bool contradicted_ = false;
  bool of_other_axis_ = false;
};

// "Units,V,mA", "units: s, V, mA"
void take_units(const HeaderCells& cells, const KeyLine& line, PreambleKeys& found) {
  PreambleKeys::StatedUnits stated;
  stated.key_has_column = !line.in_one_cell;
  stated.units.push_back(line.in_one_cell ? parse_unit(line.value) : std::nullopt);
  for (std::size_t c = 1; c < cells.size(); ++c) stated.units.push_back(parse_unit(cells[c]));
  found.stated_units.push_back(std::move(stated));
}

// "Column 1: time [ms]"
bool take_listed_name(const KeyLine& line, PreambleKeys& found) {
  const auto digits = line.key.find_first_of("0123456789");
  if (digits == std::string::npos || !is_among(line.key.substr(0, digits), kColumnWords)) return false;
  std::size_t number = 0;
  const auto [end, failure] = std::from_chars(line.key.data() + digits, line.key.data() + line.key.size(), number);
  constexpr std::size_t most = 1000;
  if (failure != std::errc{} || end != line.key.data() + line.key.size() || number == 0 || number > most) return false;
  if (line.value.empty()) return false;
  if (found.listed_names.size() < number) found.listed_names.resize(number);
  found.listed_names[number - 1] = line.value;
  return true;
}

// "u in V, i in mA", "current [mA]": a comment that says a quantity and its unit and nothing else.
bool take_sentence(std::string_view text, PreambleKeys& found) {
  std::vector<std::optional<Unit>> units;
  while (!text.empty()) {
    const auto end = std::min(text.find_first_of(",;"), text.size());
    const std::string_view part = trimmed(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
    const std::vector<std::string> words = words_of(part);
    const bool says_unit = part.find_first_of("[(") != std::string_view::npos ||
                           (words.size() > 2 && (words[words.size() - 2] == "in" || words[words.size() - 2] == "en"));
    const auto unit = unit_in_name(part);
    if (words.size() > 5 || !says_unit || !unit || column_meaning(part, std::nullopt).quantity != unit->quantity ||
        part.find_first_of("0123456789/*") != std::string_view::npos) {
      return false;
    }
    units.push_back(unit);
  }
  if (units.empty()) return false;
  // They are of quantities, not in the order of the columns.
  for (const auto& unit : units) found.stated_units.push_back({{unit}, false});
  return true;
}

// beside_table: the key stands in a row of the table, so what fills the columns are samples.
bool take_key(const HeaderCells& cells, const Layout& layout, bool beside_table, PreambleKeys& found) {
  const KeyLine line = key_line(cells, beside_table);
  if (is_among(line.key, kTimeUnitKeys)) {
    found.time_unit = parse_unit(after_channel(line.value));
    if (found.time_unit) found.stated_units.push_back({{found.time_unit}, false});
  } else if (is_among(line.key, kValueUnitKeys) || is_among(line.key, kUnitKeys)) {
    const auto unit = parse_unit(after_channel(line.value));
    if (unit && unit->quantity == Quantity::time && !found.time_unit) found.time_unit = unit;
    if (is_among(line.key, kValueUnitKeys) || (unit && unit->quantity != Quantity::time && cells.size() < 3)) {
      found.value_unit = unit;
    }
    if (!beside_table && values_fill_columns(cells, layout)) {
      found.column_unit.clear();
      for (const std::string& cell : cells) found.column_unit.push_back(parse_unit(cell));
    } else if (beside_table) {
      found.stated_units.push_back({{unit}, false});
    } else {
      take_units(cells, line, found);
    }
  } else if (line.key == kVoltageColumnKey) {
    found.voltage_column = line.value;
  } else if (line.key == kCurrentColumnKey) {
    found.current_column = line.value;
  } else if (is_among(line.key, kNameKeys)) {
    found.value_name = line.value;
    if (!beside_table && values_fill_columns(cells, layout)) found.column_name.assign(cells.begin(), cells.end());
  } else {
    return !beside_table && take_listed_name(line, found);
  }
  return true;
}

// "CH1,CH2,Start,Increment" above "Volt,Volt,-0.004,2e-05"
void take_keys_in_names(const HeaderCells& names, const HeaderCells& below, const Layout& layout, PreambleKeys& found) {
  for (std::size_t c = 0; c < names.size() && c < below.size(); ++c) {
    const bool in_table = c < layout.columns.size() && layout.columns[c].holds_numbers;
    if (!in_table && is_among(plain_key(names[c]), kIntervalKeys)) {
      const auto interval = parse_seconds(below[c], {}, layout.dialect.decimal);
      if (interval && *interval > 0) found.interval_s = interval;
    } else if (!in_table && is_among(plain_key(names[c]), kStartKeys)) {
      if (const auto start = parse_seconds(below[c], {}, layout.dialect.decimal)) found.start_s = start;
    }
  }
}

bool speaks_of_scale(std::string_view line) {
  const std::vector<std::string> words = words_of(line);
  for (std::size_t k = 0; k < words.size(); ++k) {
    if (is_among(words[k], kScaleWords)) return true;
    if (k > 0 && words[k - 1] == "scale" && words[k] == "factor") return true;
  }
  return false;
}

}  // namespace

std::optional<Unit> PreambleKeys::unit_of(Quantity quantity) const {
  std::optional<Unit> found;
  for (const StatedUnits& stated : stated_units) {
    for (const auto& unit : stated.units) {
      if (!unit || unit->quantity != quantity) continue;
      if (found && found->factor != unit->factor) return std::nullopt;
      found = unit;
    }
  }
  return found;
}

std::optional<Unit> PreambleKeys::unit_in_order(std::size_t column, std::size_t place, std::size_t columns) const {
  for (const StatedUnits& stated : stated_units) {
    const auto& units = stated.units;
    const auto values = units.size() - (stated.key_has_column ? 1 : 0);
    const auto known = std::count_if(units.begin(), units.end(), [](const auto& unit) { return unit.has_value(); });
    if (values < 2) continue;
    if (static_cast<std::size_t>(known) == columns) {
      const std::size_t at = place + (stated.key_has_column ? 1 : 0);
      if (at < units.size()) return units[at];
    } else if (stated.key_has_column && known + 1 == static_cast<std::ptrdiff_t>(columns) && column < units.size()) {
      return units[column];
    }
  }
  return std::nullopt;
}

bool is_preamble_key(const std::string& key) {
  return is_among(key, kIntervalKeys) || is_among(key, kRateKeys) || is_among(key, kValueUnitKeys) ||
         is_among(key, kUnitKeys) || is_among(key, kTimeUnitKeys) || is_among(key, kNameKeys) ||
         is_among(key, kStartKeys);
}

PreambleKeys read_preamble_keys(const std::vector<std::string>& head, std::size_t first, const HeaderRows& rows,
                                const Layout& layout) {
  PreambleKeys found;
  std::vector<std::size_t> left;
  const bool keys_beside = !layout.columns.empty() && !layout.columns[0].holds_numbers;
  const std::size_t last = keys_beside ? head.size() : first;
  // Units first: a figure without one of its own is in that of its axis.
  for (std::size_t k = 0; k < last; ++k) {
    if (k < first && rows.used[k]) continue;
    const HeaderCells cells = header_cells(head[k], layout.dialect);
    if (cells.empty() || take_key(cells, layout, k >= first, found)) continue;
    left.push_back(k);
  }
  ClockReader clock(layout, found);
  for (const std::size_t k : left) {
    const std::string& text = head[k];
    const HeaderCells cells = header_cells(text, layout.dialect);
    if (text.starts_with('[')) clock.enter(plain_key(text));
    if (clock.take(key_line(cells, k >= first), text) || k >= first) continue;
    const std::string_view plain = without_comment_mark(text);
    if (speaks_of_scale(plain)) {
      if (found.scale_line.empty()) found.scale_line = text;
    } else if (!(plain.size() < text.size() && take_sentence(plain, found))) {
      found.unused_lines.insert(found.unused_lines.begin(), text);
    }
  }
  clock.finish();
  if (!rows.names.empty() && !rows.units.empty()) take_keys_in_names(rows.names, rows.units, layout, found);
  return found;
}

}  // namespace lampload
